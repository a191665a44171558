"""Every rule's page as one document: `python -m setuplint.formats.rule_pages > rules/README.md` writes it anew."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from setuplint.book import rulebook
from setuplint.book.functions import check_of
from setuplint.book.rule_file import SIGNALS, Page, Rule
from setuplint.book.run import AFTERWARDS, LOADING
from setuplint.checks import rescue_height
from setuplint.formats.numbers import decimal
from setuplint.formats.rule_page import BASES, MEANS

OPENING = """\
# The rules

Made from the rule files in this folder, and not edited by hand: `python -m setuplint.formats.rule_pages > rules/README.md` makes
it anew. `setuplint explain RULE` prints one page, with examples.

A source is published, common practice, or written down from memory and not checked; each says which, and so does each limit.
"""


def rules_document() -> str:
    """The whole text in Markdown: a table of all rules, then their pages, the gravest first and by name."""
    blocks = [OPENING.rstrip("\n")]
    for signal in SIGNALS:
        blocks += [f"**{signal}**: {MEANS[signal]}.", "\n".join(_table_lines(signal))]
    for signal in SIGNALS:
        blocks.append(f"## {signal.capitalize()}")
        for rule in _rules_with(signal):
            blocks.append(f"### {rule.name}")
            blocks += page_blocks(rulebook.page(rule.name))
    return "\n\n".join(blocks) + "\n"


def check_meaning(rule: Rule) -> str:
    """What a check decides: by its function's own words, where it has a function."""
    if rule.asked == LOADING:
        return "Found while the file is read, before any state is asked for."
    if rule.asked == AFTERWARDS:
        return "Said after all other rules, of what they came to."
    words = check_of(rule).__doc__ if rule.check else ""
    return " ".join((words or "").split())


def _rules_with(signal: str) -> list[Rule]:
    return [rule for rule in rulebook.rules().values() if rule.signal == signal]


def _table_lines(signal: str) -> Iterator[str]:
    yield "| rule | |"
    yield "| --- | --- |"
    for rule in _rules_with(signal):
        yield f"| [{rule.name}](#{rule.name}) | {_markdown_line(rule.title)} |"


def page_blocks(page: Page) -> Iterator[str]:
    """A rule's page in Markdown, without its heading."""
    rule = page.rule
    yield f"{_markdown_line(rule.title)} (**{rule.signal}**)."
    if rule.is_claim:
        yield f"In every state that can be reached from power-up, {'never' if rule.never else 'always'}:"
        yield f"```text\n{(rule.never or rule.always or '').strip()}\n```"
    elif check_meaning(rule):
        yield f"**Meaning.** {_markdown_line(check_meaning(rule))}"
    yield f"**Why.** {_markdown_line(rule.why)}"
    yield f"**Remedy.** {_markdown_line(rule.remedy)}"
    if rule.limits:
        yield "\n".join(_limit_lines(rule))
    if page.sources:
        yield "\n".join(_source_lines(page))
    if rule.name in rescue_height.RULES:
        yield f"**Estimate.** {_markdown_line(rescue_height.TABLE_WORDS)}"
        yield "\n".join(_height_lines())


def _limit_lines(rule: Rule) -> Iterator[str]:
    yield "| limit | | basis |"
    yield "| --- | --- | --- |"
    for name, limit in rule.limits.items():
        yield f"| {name} | {decimal(limit.value, 6)} {_markdown_line(limit.unit)} | {BASES[limit.basis].lower()} |"


def _height_lines() -> Iterator[str]:
    head, *rows = rescue_height.TABLE_HEAD, *rescue_height.worked_rows()
    for row in (head, ["---"] * len(head), *rows):
        yield f"| {' | '.join(row)} |"


def _source_lines(page: Page) -> Iterator[str]:
    for source in page.sources:
        where = f" ({_markdown_line(source.where)})" if source.where else ""
        yield f"- {BASES[source.basis]}: {_markdown_line(source.says)}{where}"


def _markdown_line(text: str) -> str:
    """On one line, with what Markdown would take for its own marks escaped, but for code in backticks."""
    parts = " ".join(text.split()).split("`")
    if len(parts) % 2 == 0:  # a backtick that nothing closes
        return "".join(map(_escaped, "`".join(parts)))
    return "`".join(part if index % 2 else "".join(map(_escaped, part)) for index, part in enumerate(parts))


def _escaped(char: str) -> str:
    return f"\\{char}" if char in "*_<>|[]\\`" else char


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # type: ignore[union-attr]
    sys.stdout.write(rules_document())
