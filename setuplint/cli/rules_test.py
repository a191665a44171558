"""`setuplint rules-test`: do the rules in folders speak, and keep silent, as their examples say?"""

from __future__ import annotations

import argparse
from pathlib import Path

from setuplint import library
from setuplint.book import club_rules, rule_file
from setuplint.book.choices import Choices
from setuplint.cli import files, run_configs
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble
from setuplint.club import examples
from setuplint.formats.numbers import counted
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.setup.file_sources import file_content
from setuplint.source import parsed_document


def run(args: argparse.Namespace) -> int:
    """Each folder by the setuplint.toml that holds for it."""
    configs = run_configs.Configs()
    rules = tested = failing = 0
    for folder in args.folders:
        by = run_configs.checked_choices(configs.of(str(Path(folder, "x.toml"))), [folder])
        for path in club_rules.rule_files(Path(folder)):
            page = _rule_page(path)
            wrong, beside = _tested(path, page, by)
            write_out(_outcome_text(path, page, wrong, beside, stdout_look()))
            rules, tested, failing = rules + 1, tested + len(page.examples), failing + len(wrong)
    if not rules:
        raise Trouble(f"there is no rule in {', '.join(args.folders)}: nothing was tested")
    write_out(f"{counted(rules, 'rule')}, {counted(tested, 'example')}: {_outcome(failing)}.\n")
    return 1 if failing else 0


def _rule_page(path: Path) -> rule_file.Page:
    try:
        return club_rules.club_rule(path)
    except (OSError, rule_file.BookError) as error:
        raise Trouble(str(error)) from None


def _tested(path: Path, page: rule_file.Page, by: Choices) -> tuple[list[str], list[str]]:
    """What is not as the rule's file says, and which other rules report something on its examples: each a line with its place."""
    document = parsed_document(file_content(str(path), 4 * rule_file.LONGEST) or b"")

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


def _outcome_text(path: Path, page: rule_file.Page, wrong: list[str], beside: list[str], look: Look) -> str:
    lines = [*wrong, *beside]
    if not wrong:
        lines.insert(0, f"{files.printable(str(path))}: {counted(len(page.examples), 'example')} as it says")
    return "".join(f"{row}\n" for text in lines for row in wrap(plain(text), look.width, "", "  "))


def _outcome(failing: int) -> str:
    return (
        f"{counted(failing, 'thing')} {'is' if failing == 1 else 'are'} not as said" if failing else "all as they say"
    )
