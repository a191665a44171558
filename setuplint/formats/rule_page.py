"""A rule's page, as `explain` prints it: what it means, why, what to do, what it rests on, and examples."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from setuplint.book.rule_file import SIGNALS, Example, Page, Rule
from setuplint.checks import rescue_height
from setuplint.formats import toml
from setuplint.formats.numbers import decimal
from setuplint.formats.terminal import Look, plain, width, wrap

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
COLUMN = 12


def rule_text(shown: Page, look: Look, meaning: str = "") -> str:
    """The whole page. `meaning` is what a check decides, in words; a claim says it itself."""
    rule = shown.rule
    lines = [
        f"{plain(rule.name)}: {look.paint(rule.signal, rule.signal)} ({MEANS[rule.signal]})",
        *wrap(plain(rule.title), look.width),
        "",
        *_labelled_lines("Meaning", _meaning_words(rule, meaning), look),
        *_labelled_lines("Why", rule.why, look),
        *_labelled_lines("Remedy", rule.remedy, look),
        *_labelled_items("Limits", _limit_lines(rule), look),
        *_labelled_items("Sources", _source_lines(shown), look),
        *_height_lines(rule, look),
        *_example_lines(shown.examples, look),
    ]
    return "\n".join(lines) + "\n"


def rule_list_text(rules: Iterable[Rule], look: Look) -> str:
    """Every rule with its title, the gravest first."""
    found = sorted(rules, key=lambda rule: (SIGNALS.index(rule.signal), rule.name))
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


def _meaning_words(rule: Rule, meaning: str) -> str:
    if not rule.is_claim:
        return meaning
    always = rule.always is not None
    text = " ".join((rule.always or rule.never or "").split())
    return f"In every state that can be reached from power-up, {'always' if always else 'never'}: {text}."


def _limit_lines(rule: Rule) -> Iterator[str]:
    for name, limit in rule.limits.items():
        basis = BASES[limit.basis].lower()
        own = "" if limit.ours is None else f"the club's; in the book {decimal(limit.ours, 6)} {limit.unit}, "
        yield f"{name}: {decimal(limit.value, 6)} {limit.unit} ({own}{basis})"


def _source_lines(shown: Page) -> Iterator[str]:
    for source in shown.sources:
        where = f" ({source.where})" if source.where else ""
        yield f"{BASES[source.basis]}: {source.says}{where}"


def _height_lines(rule: Rule, look: Look) -> Iterator[str]:
    """The height that a rescue needs, worked out, on the pages that it concerns."""
    if rule.name not in rescue_height.RULES:
        return
    yield from _labelled_lines("Estimate", rescue_height.TABLE_WORDS, look)
    rows = [rescue_height.TABLE_HEAD, *rescue_height.worked_rows()]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(room) for cell, room in zip(row, widths, strict=True))
        yield f"{' ' * COLUMN}{'  '.join(cells)}".rstrip()


def _labelled_lines(label: str, text: str, look: Look) -> Iterator[str]:
    text = plain(" ".join(text.split()))
    if text:
        yield from wrap(text, look.width, f"{INDENT}{label}:".ljust(COLUMN), " " * COLUMN)


def _labelled_items(label: str, items: Iterable[str], look: Look) -> Iterator[str]:
    for item in items:
        yield from (
            _labelled_lines(label, item, look) if label else wrap(plain(item), look.width, " " * COLUMN, " " * COLUMN)
        )
        label = ""


def _example_lines(examples: tuple[Example, ...], look: Look) -> Iterator[str]:
    """The first that speaks and the first that does not."""
    for speaks, verb in ((True, "finds something"), (False, "is silent")):
        example = next((example for example in examples if example.speaks is speaks), None)
        if example is None:
            continue
        what = "after this change to the safe reference setup" if example.text is None else "on this setup"
        yield from ("", f"{INDENT}It {verb} {what}:")
        yield from (f"{INDENT * 2}{row}".rstrip() for row in _change_lines(example))


def _change_lines(example: Example) -> Iterator[str]:
    if example.text is not None:
        yield from (plain(row.expandtabs(4)) for row in example.text.strip().splitlines())
    for path in example.remove:
        yield f"# left out: {plain(path)}"
    for path, what in example.edit.items():
        yield plain(f"{path} = {toml.toml_value(what)}")
    if example.beside is not None:
        yield "# and beside it a second setup, in which"
        for path, what in example.beside.items():
            yield plain(f"{path} = {toml.toml_value(what)}")
