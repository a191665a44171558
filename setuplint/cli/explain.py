"""`setuplint explain`: the page of a rule, or all rules with their titles."""

from __future__ import annotations

import argparse
import sys

from setuplint.checks import book
from setuplint.cli import clubs
from setuplint.cli.terminal import look
from setuplint.formats.page import contents, page


def run(args: argparse.Namespace) -> int:
    further = clubs.pages(args.rules)
    if args.rule is None:
        rules = [*book.rules().values(), *(shown.rule for shown in further.values())]
        sys.stdout.write(contents(rules, look()))
        return 0
    shown = further.get(clubs.known(args.rule, further)) or book.page(args.rule)
    sys.stdout.write(page(shown, look(), meaning(shown.rule)))
    return 0


def meaning(rule: book.Rule) -> str:
    """What a check decides, by its function's own words."""
    return ""
