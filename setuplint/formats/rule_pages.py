"""All rules: the list of them, and their pages as one document, which `python -m setuplint.formats.rule_pages >
rules/README.md` writes again."""

from __future__ import annotations

import sys
from collections.abc import Iterable

from setuplint.book import rulebook
from setuplint.book.rule_file import SIGNALS, Rule
from setuplint.formats.rule_page import INDENT, MEANS, markdown_line, rule_markdown
from setuplint.formats.terminal import Look, plain, width, wrap

OPENING = """\
# The rules

Made from the rule files in this folder, and not edited by hand: `python -m setuplint.formats.rule_pages > rules/README.md` makes
it again. `setuplint explain RULE` prints one page, with examples.

A source is published, common practice, or written down from memory and not checked; each says which, and so does each limit.
"""


def rule_list_text(rules: Iterable[Rule], look: Look) -> str:
    """Every rule with its title, the gravest first."""
    found = sorted(rules, key=lambda rule: rule.name)
    column = max((width(rule.name) for rule in found), default=0) + len(INDENT) + 2
    lines: list[str] = []
    for signal in SIGNALS:
        lines.append(f"{look.paint(signal, signal)}: {MEANS[signal]}")
        for rule in found:
            if rule.signal == signal:
                first = f"{INDENT}{plain(rule.name)}".ljust(column)
                lines += wrap(plain(rule.title), look.width, first, " " * column)
        lines.append("")
    return "\n".join([*lines, "`setuplint explain RULE` prints the page of one.", ""])


def rules_document() -> str:
    """The whole text in Markdown: a table of all rules, then their pages, the gravest first and by name."""
    listed, pages = [OPENING.rstrip("\n")], list[str]()
    for signal in SIGNALS:
        rules = [rule for rule in rulebook.rules().values() if rule.signal == signal]
        rows = (f"| [{rule.name}](#{rule.name}) | {markdown_line(rule.title)} |" for rule in rules)
        listed += [f"**{signal}**: {MEANS[signal]}.", "\n".join(("| rule | |", "| --- | --- |", *rows))]
        pages.append(f"## {signal.capitalize()}")
        for rule in rules:
            pages += [f"### {rule.name}", rule_markdown(rulebook.page(rule.name))]
    return "\n\n".join([*listed, *pages]) + "\n"


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # type: ignore[union-attr]
    sys.stdout.write(rules_document())
