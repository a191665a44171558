"""The page of a rule, the list of all rules, and their pages as one document, which `python -m setuplint.formats.rule_pages >
rules/README.md` writes again."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator

from setuplint.book import rulebook
from setuplint.book.functions import check_of
from setuplint.book.rule_file import SIGNALS, Example, Page, Rule
from setuplint.book.run import AFTERWARDS, LOADING
from setuplint.checks import rescue_height
from setuplint.formats import toml
from setuplint.formats.document import Block, Grid, Labelled
from setuplint.formats.document_markdown import document_markdown
from setuplint.formats.document_text import document_lines
from setuplint.formats.numbers import decimal
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


MEANS = {
    "danger": "someone can be hurt",
    "caution": "the craft or its pack can be lost",
    "notice": "it works, and will bite later",
}
BASES = {
    "published": "Published",
    "practice": "Common practice, with no published source",
    "memory": "From memory, not checked",
}
INDENT = "  "


def rule_document(page: Page) -> Iterator[Block]:
    """What a rule's file says, without its title and examples."""
    rule = page.rule
    yield Labelled("Meaning", [_meaning(rule)])
    yield Labelled("Why", [rule.why])
    yield Labelled("Remedy", [rule.remedy])
    yield Labelled("Limits", list(_limits(rule)))
    yield Labelled("Sources", list(_sources(page)))
    if rule.name in rescue_height.RULES:  # the worked height that a rescue needs
        yield Labelled("Estimate", [rescue_height.TABLE_WORDS])
        yield Grid(rescue_height.TABLE_HEAD, list(rescue_height.worked_rows()), "The height that it takes")


def rule_text(page: Page, look: Look) -> str:
    rule = page.rule
    lines = [
        f"{plain(rule.name)}: {look.paint(rule.signal, rule.signal)} ({MEANS[rule.signal]})",
        *wrap(plain(rule.title), look.width),
        "",
        *document_lines(rule_document(page), look),
        *_example_lines(page.examples),
    ]
    return "\n".join(lines) + "\n"


def rule_markdown(page: Page) -> str:
    """The page without its heading and examples."""
    title = f"{markdown_line(page.rule.title)} (**{page.rule.signal}**)."
    return f"{title}\n\n{document_markdown(rule_document(page), markdown_line)}".rstrip("\n")


def _meaning(rule: Rule) -> str:
    """A claim says it itself; what a check decides, its function says in its own words, where it has one."""
    if rule.is_claim:
        always = "never" if rule.always is None else "always"
        return (
            f"In every state that can be reached from power-up, {always}: {(rule.always or rule.never or '').strip()}."
        )
    if rule.asked == LOADING:
        return "Found while the file is read, before any state is asked for."
    if rule.asked == AFTERWARDS:
        return "Said after all other rules, of what they came to."
    return (check_of(rule).__doc__ or "") if rule.check else ""


def _limits(rule: Rule) -> Iterator[str]:
    for name, limit in rule.limits.items():
        own = "" if limit.ours is None else f"the club's; in the book {decimal(limit.ours, 6)} {limit.unit}, "
        yield f"{name}: {decimal(limit.value, 6)} {limit.unit} ({own}{BASES[limit.basis].lower()})"


def _sources(page: Page) -> Iterator[str]:
    for source in page.sources:
        yield f"{BASES[source.basis]}: {source.says}" + (f" ({source.where})" if source.where else "")


def _example_lines(examples: tuple[Example, ...]) -> Iterator[str]:
    """The first example in which the rule finds something, and the first in which it does not."""
    for speaks, verb in ((True, "finds something"), (False, "is silent")):
        example = next((example for example in examples if example.speaks is speaks), None)
        if example is None:
            continue
        what = "after this change to the safe reference setup" if example.text is None else "on this setup"
        yield from ("", f"{INDENT}It {verb} {what}:")
        yield from (f"{INDENT * 2}{plain(row)}".rstrip() for row in _change_lines(example))


def _change_lines(example: Example) -> Iterator[str]:
    yield from (row.expandtabs(4) for row in (example.text or "").strip().splitlines())
    yield from (f"# left out: {path}" for path in example.remove)
    yield from (f"{path} = {toml.toml_value(what)}" for path, what in example.edit.items())
    if example.beside is not None:
        yield "# and beside it a second setup, in which"
        yield from (f"{path} = {toml.toml_value(what)}" for path, what in example.beside.items())


def markdown_line(text: str) -> str:
    """Text on one line with the marks of Markdown escaped, except in code in backticks."""
    pieces = " ".join(text.split()).split("`")
    if len(pieces) % 2 == 0:  # a backtick that nothing closes
        return "".join(map(_escaped, "`".join(pieces)))
    return "`".join(piece if n % 2 else "".join(map(_escaped, piece)) for n, piece in enumerate(pieces))


def _escaped(char: str) -> str:
    return f"\\{char}" if char in "*_<>|[]\\`" else char


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # type: ignore[union-attr]
    sys.stdout.write(rules_document())
