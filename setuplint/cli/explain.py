"""`setuplint explain`: the page of a rule, or all rules with their titles."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from setuplint.checks import book
from setuplint.cli import Trouble, nearest
from setuplint.cli.terminal import look
from setuplint.formats.page import contents, page


def run(args: argparse.Namespace) -> int:
    further = {shown.rule.name: shown for folder in args.rules for shown in club(Path(folder))}
    if args.rule is None:
        sys.stdout.write(contents([*book.rules().values(), *(shown.rule for shown in further.values())], look()))
        return 0
    known = [*book.rules(), *further]
    if args.rule not in known:
        raise Trouble(f"there is no rule {args.rule}{nearest(args.rule, known)}")
    shown = further.get(args.rule) or book.page(args.rule)
    sys.stdout.write(page(shown, look(), meaning(shown.rule)))
    return 0


def club(folder: Path) -> list[book.Page]:
    """The pages of a folder of claims; Trouble where one is not a rule."""
    if not folder.is_dir():
        raise Trouble(f"{folder} is not a folder of rules")
    try:
        return [book.read_rule(path.read_text(encoding="utf-8"), path.stem) for path in sorted(folder.glob("*.toml"))]
    except (OSError, ValueError) as error:
        raise Trouble(f"{folder}: {error}") from None


def meaning(rule: book.Rule) -> str:
    """What a check decides, by its function's own words."""
    return ""
