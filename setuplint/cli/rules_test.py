"""`setuplint rules-test`: do the rules in folders speak, and keep silent, as their examples say?"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence

from setuplint import library
from setuplint.book import club_rules, rule_file
from setuplint.book.choices import Choices
from setuplint.cli import files, run_configs
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble
from setuplint.club import examples, nearest
from setuplint.club.config_sources import DISK, is_inside
from setuplint.formats.numbers import counted
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.source import parsed_document


def run(args: argparse.Namespace) -> int:
    """Each folder by every setuplint.toml that holds for it."""
    configs = run_configs.Configs(files=run_configs.staged_files() if args.staged else None)
    folders = _club_folders(configs, args.paths) if args.staged or not args.paths else args.paths
    if args.staged and not folders:
        write_out("No rule of a club's has changed.\n")
        return 0
    rules = tested = failing = 0
    for folder in folders:
        texts = configs.rule_texts([folder])
        by = run_configs.checked_choices(configs.of(os.path.join(folder, "x.toml")), texts)
        for text in texts:
            page = club_rules.page_of(text)
            wrong, beside = _tested(text, page, by)
            write_out(_outcome_text(text.name, page, wrong, beside, stdout_look()))
            rules, tested, failing = rules + 1, tested + len(page.examples), failing + len(wrong)
    if not rules:
        raise Trouble("setuplint.toml names no folder of rules: nothing was tested")
    write_out(f"{counted(rules, 'rule')}, {counted(tested, 'example')}: {_outcome(failing)}.\n")
    return 1 if failing else 0


def _club_folders(configs: run_configs.Configs, paths: Sequence[str]) -> list[str]:
    """The folders of rules of a club: all, or those that one of the paths is, or lies in, or (a setuplint.toml) names."""
    found: dict[str, None] = {}
    for path in paths or [nearest.NAME, *configs.names()]:
        config = configs.of(path)
        for folder in config.folders if config else ():
            inside = is_inside(os.path.abspath(path), folder) or is_inside(folder, os.path.abspath(path))
            if not paths or inside or os.path.basename(path) == nearest.NAME:
                found[DISK.shown(folder)] = None
    return list(found)


def _tested(text: club_rules.RuleText, page: rule_file.Page, by: Choices) -> tuple[list[str], list[str]]:
    """What is not as the rule's file says, and which other rules report something on its examples: each a line with its place."""
    path, document = text.name, parsed_document(text.data)

    def lint(texts: examples.Texts) -> examples.Reports:
        return library.lint_together(texts, choices=by)

    wrong = [f"{path}:1:1: {what}" for what in examples.lacking(page)]
    beside: list[str] = []
    for number, example in enumerate(page.examples):
        line, column = document.position(document.span(("examples", number)).start)
        outcome = examples.outcome(page.rule.name, example, lint)
        wrong += [f"{path}:{line}:{column}: {what}" for what in outcome.wrong]
        beside += [f"{path}:{line}:{column}: also found by {name}: {said}" for name, said in outcome.beside.items()]
    return wrong, beside


def _outcome_text(path: str, page: rule_file.Page, wrong: list[str], beside: list[str], look: Look) -> str:
    lines = [*wrong, *beside]
    if not wrong:
        lines.insert(0, f"{files.printable(path)}: {counted(len(page.examples), 'example')} as it says")
    return "".join(f"{row}\n" for text in lines for row in wrap(plain(text), look.width, "", "  "))


def _outcome(failing: int) -> str:
    return (
        f"{counted(failing, 'thing')} {'is' if failing == 1 else 'are'} not as said" if failing else "all as they say"
    )
