"""`setuplint explain`: the page of a rule, or all rules with their titles."""

from __future__ import annotations

import argparse
import sys

from setuplint.checks import CHECKS, book
from setuplint.checks.run import AFTERWARDS, FROM_LOADING
from setuplint.cli import clubs
from setuplint.cli.terminal import look
from setuplint.formats.page import contents, page


def run(args: argparse.Namespace) -> int:
    if args.rule is None:
        sys.stdout.write(contents([*book.rules().values(), *clubs.rules(args.rules).values()], look()))
        return 0
    shown = clubs.page(clubs.known(args.rule, args.rules), args.rules)
    sys.stdout.write(page(shown, look(), meaning(shown.rule)))
    return 0


def meaning(rule: book.Rule) -> str:
    """What a check decides: by its function's own words, where it has a function."""
    if rule.name in FROM_LOADING:
        return "Found while the file is read, before any state is asked for."
    if rule.name in AFTERWARDS:
        return "Said after all other rules, of what they came to."
    check = CHECKS.get(rule.check or "")
    words = (check.__doc__ or "") if check is not None else ""
    return " ".join(words.split())
