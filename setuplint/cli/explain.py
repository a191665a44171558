"""`setuplint explain`: the page of a rule, or all rules with their titles, as they are in the working folder."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.book.choices import Choices
from setuplint.cli import Trouble, choosing, nearest
from setuplint.cli.console import look
from setuplint.formats.rule_page import contents, page
from setuplint.formats.rule_pages import meaning


def run(args: argparse.Namespace) -> int:
    configs = choosing.Configs()
    config = configs.of("")
    made = choosing.checked(config, args.rules)
    if args.rule is None:
        sys.stdout.write(contents(made.rules.values(), look()))
        return 0
    folders = [*map(Path, args.rules), *map(Path, config.folders if config else ())]
    shown = _page(args.rule, made, folders)
    sys.stdout.write(page(shown, look(), meaning(shown.rule)))
    return 0


def _page(name: str, made: Choices, folders: list[Path]) -> rule_file.Page:
    if name not in made.rules:
        raise Trouble(f"there is no rule {name}{nearest(name, list(made.rules))}")
    own = next((path for folder in folders if (path := folder / f"{name}.toml").is_file()), None)
    shown = rulebook.page(name) if own is None else club_rules.read(own)
    return replace(shown, rule=made.rules[name])
