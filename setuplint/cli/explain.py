"""`setuplint explain`: the page of a rule, or all rules with their titles, as they are in the working folder."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.book.choices import Choices
from setuplint.cli import run_configs
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.dataclass import replace
from setuplint.formats.rule_pages import rule_list_text, rule_text


def run(args: argparse.Namespace) -> int:
    configs = run_configs.Configs()
    config, texts = configs.of(""), configs.rule_texts(args.rules)
    made = run_configs.checked_choices(config, texts)
    if args.rule is None:
        write_out(rule_list_text(made.rules.values(), stdout_look()))
        return 0
    shown = _rule_page(args.rule, made, (*texts, *(config.rules if config else ())))
    write_out(rule_text(shown, stdout_look()))
    return 0


def _rule_page(name: str, made: Choices, texts: Sequence[club_rules.RuleText]) -> rule_file.Page:
    if name not in made.rules:
        raise Trouble(f"there is no rule {name}{did_you_mean(name, list(made.rules))}")
    own = next((text for text in texts if club_rules.rule_name(text) == name), None)
    shown = rulebook.page(name) if own is None else club_rules.page_of(own)
    return replace(shown, rule=made.rules[name])
