"""`setuplint rules-test`: whether the rules in folders find what their examples say, and nothing else."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from setuplint import library
from setuplint.book import club_rules, rulebook
from setuplint.book.choices import Choices
from setuplint.cli import files, run_configs
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble
from setuplint.club import examples
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.formats.text import counted
from setuplint.setup.folders import content
from setuplint.source import read


def run(args: argparse.Namespace) -> int:
    """Each folder by the setuplint.toml that holds for it."""
    configs = run_configs.Configs()
    rules = tested = failing = 0
    for folder in args.folders:
        by = run_configs.checked_choices(configs.of(str(Path(folder, "x.toml"))), [folder])
        for path in club_rules.files(Path(folder)):
            page = _page(path)
            wrong = list(_mistakes(path, page, by))
            write_out(_result_lines(path, page, wrong, stdout_look()))
            rules, tested, failing = rules + 1, tested + len(page.examples), failing + len(wrong)
    if not rules:
        raise Trouble(f"there is no rule in {', '.join(args.folders)}: nothing was tested")
    write_out(f"{counted(rules, 'rule')}, {counted(tested, 'example')}: {_outcome(failing)}.\n")
    return 1 if failing else 0


def _page(path: Path) -> rulebook.Page:
    try:
        return club_rules.read(path)
    except (OSError, rulebook.BookError) as error:
        raise Trouble(str(error)) from None


def _mistakes(path: Path, page: rulebook.Page, by: Choices) -> Iterator[str]:
    """One line for each thing that is not as the rule's file says, with its place in it."""
    document = read(content(str(path), 4 * rulebook.LONGEST) or b"")

    def lint(texts: examples.Texts) -> examples.Reports:
        return library.lint_together(texts, choices=by)

    for what in examples.lacking(page):
        yield f"{path}:1:1: {what}"
    for number, example in enumerate(page.examples):
        line, column = document.position(document.span(("examples", number)).start)
        for what in examples.wrong(page.rule.name, example, by, lint):
            yield f"{path}:{line}:{column}: {what}"


def _result_lines(path: Path, page: rulebook.Page, wrong: list[str], look: Look) -> str:
    if not wrong:
        return f"{plain(files.printable(str(path)))}: {counted(len(page.examples), 'example')} as it says\n"
    return "".join(f"{row}\n" for text in wrong for row in wrap(plain(text), look.width, "", "  "))


def _outcome(failing: int) -> str:
    return (
        f"{counted(failing, 'thing')} {'is' if failing == 1 else 'are'} not as said" if failing else "all as they say"
    )
