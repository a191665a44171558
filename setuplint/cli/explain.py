"""`setuplint explain`: the page of a rule, or all rules with their titles."""

from __future__ import annotations

import argparse
import sys

from setuplint.checks import book
from setuplint.cli import clubs
from setuplint.cli.terminal import look
from setuplint.formats.book import meaning
from setuplint.formats.page import contents, page


def run(args: argparse.Namespace) -> int:
    if args.rule is None:
        sys.stdout.write(contents([*book.rules().values(), *clubs.rules(args.rules).values()], look()))
        return 0
    shown = clubs.page(clubs.known(args.rule, args.rules), args.rules)
    sys.stdout.write(page(shown, look(), meaning(shown.rule)))
    return 0
