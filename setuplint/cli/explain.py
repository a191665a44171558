"""`setuplint explain`: the page of a rule, or all rules with their titles, as they are in the working folder."""

from __future__ import annotations

import argparse
from pathlib import Path

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.book.choices import Choices
from setuplint.cli import run_configs
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.dataclass import replace
from setuplint.formats.rule_page import rule_text
from setuplint.formats.rule_pages import rule_list_text


def run(args: argparse.Namespace) -> int:
    configs = run_configs.Configs()
    config = configs.of("")
    made = run_configs.checked_choices(config, args.rules)
    if args.rule is None:
        write_out(rule_list_text(made.rules.values(), stdout_look()))
        return 0
    folders = [*map(Path, args.rules), *map(Path, config.folders if config else ())]
    shown = _rule_page(args.rule, made, folders)
    write_out(rule_text(shown, stdout_look()))
    return 0


def _rule_page(name: str, made: Choices, folders: list[Path]) -> rule_file.Page:
    if name not in made.rules:
        raise Trouble(f"there is no rule {name}{did_you_mean(name, list(made.rules))}")
    own = next((path for folder in folders if (path := folder / f"{name}.toml").is_file()), None)
    shown = rulebook.page(name) if own is None else club_rules.club_rule(own)
    return replace(shown, rule=made.rules[name])
