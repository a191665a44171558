"""Mechanical remedies: a finding's edit put into the text, and which of them may be applied unasked.

A remedy is applied only where a lint of the text after it, by every rule, shows its finding gone, no other finding come
(none of another rule or subject, waived ones counted) and nothing that could be judged before left open, and where it is
proved that outputs change in no state but those of the hazard. All others are offered, with what speaks against them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator
from copy import deepcopy
from typing import Any, NamedTuple

from setuplint.findings import Edit, Finding, Report
from setuplint.formats.toml import key as written
from setuplint.setup.model import Setup
from setuplint.source import Document, Path, Span, read

BOM = b"\xef\xbb\xbf"
MOST = 100  # lints for one file: texts come from strangers, and each remedy that is tried costs one

Key = tuple[str, str]


class Offer(NamedTuple):
    """A remedy that is not applied, and why."""

    finding: Finding
    because: str


class Remedies(NamedTuple):
    """The file after those remedies that were applied, and the others."""

    data: bytes
    applied: tuple[Finding, ...] = ()
    offered: tuple[Offer, ...] = ()


def remedies(
    data: bytes,
    report: Report,
    lint: Callable[[bytes], Report],
    only: Collection[str] | None = None,
    load: Callable[[bytes], Setup] | None = None,
) -> Remedies:
    """What becomes of a file. `report` is of `data` and, as those of `lint`, by every rule; `only` names the rules whose
    remedies are wanted. `load` reads a text for the proof that outputs change only where the hazard was; without it
    every remedy after which the lint is better is applied. Each one is tried after those before it, in the order of the
    file, until none is left that can be applied: what comes out of it, given again, stays as it is."""
    applied: list[Finding] = []
    tries = 0
    while True:
        offered: list[Offer] = []
        done = len(applied)
        for finding in _wanted(report, only):
            if finding not in report.findings:
                continue  # gone with one before it, or another by now: then it is its turn again
            if finding.edit and report.texts.is_shared(finding.edit.path):
                file = report.texts.holder(finding.edit.path).name
                offered.append(Offer(finding, f"it stands in {file}, which other setups may extend: change it there"))
                continue
            text = edited(report.document, finding.edit) if finding.edit else None
            if text is None:
                offered.append(Offer(finding, "it does not fit into the text as it is written"))
                continue
            if tries >= MOST:
                offered.append(Offer(finding, f"not tried: there were {MOST} before it"))
                continue
            tries += 1
            after = (BOM if data.startswith(BOM) else b"") + text.encode()
            then = lint(after)
            because = objection(finding, report, then) or (_elsewhere(finding, load(data), load(after)) if load else "")
            if because:
                offered.append(Offer(finding, because))
            else:
                data, report = after, then
                applied.append(finding)
        if len(applied) == done or tries >= MOST:
            return Remedies(data, tuple(applied), tuple(offered))


def _elsewhere(finding: Finding, old: Setup, new: Setup) -> str:
    from setuplint.compare.safety import changes_elsewhere

    return changes_elsewhere(old, new, finding.hazard)


def _wanted(report: Report, only: Collection[str] | None) -> list[Finding]:
    return [x for x in report.findings if x.edit is not None and (only is None or x.rule in only)]


def objection(finding: Finding, before: Report, after: Report) -> str:
    """What speaks against a remedy, by the lint after it; empty where nothing does."""
    spoke, speaks = _spoken(before), _spoken(after)
    for rule, subject in speaks - spoke:
        return f"then {rule} speaks{of(subject)}"
    here = (finding.rule, finding.subject)
    if speaks[here] >= spoke[here]:
        return "the finding stays"
    known = {(note.rule, note.subject) for note in before.not_judged}
    for note in after.not_judged:
        if (note.rule, note.subject) not in known:
            return f"then {note.rule} cannot be judged{of(note.subject)}"
    return ""


def of(subject: str) -> str:
    return f" of {subject}" if subject else ""


def _spoken(report: Report) -> Counter[Key]:
    return Counter((finding.rule, finding.subject) for finding in (*report.findings, *report.waived))


def edited(document: Document, edit: Edit) -> str | None:
    """The text with one value set and every other character as it was; None where that cannot be done: the text is not
    TOML throughout, or the value would not come to stand where it belongs."""
    given = read(f"value = {edit.value}\n")
    if document.problems or given.problems or not edit.path:
        return None
    place = _place(document, edit)
    if place is None:
        return None
    span, text = place
    text = document.text[: span.start] + text + document.text[span.end :]
    wanted = deepcopy(document.values)
    now = read(text)
    if now.problems or not _put(wanted, edit.path, given.values["value"]) or now.values != wanted:
        return None
    return text


def _place(document: Document, edit: Edit) -> tuple[Span, str] | None:
    """What to replace, and with what."""
    *way, last = edit.path
    table = tuple(way)
    span, key = document.value_span(edit.path), document.key_span(edit.path)
    if span is not None:
        old = document.text[span.start : span.end]
        if (key is not None and _is_heading(key, span)) or ("\n" in old and "#" in old):
            return None  # a whole table, or a value with comments in it
        return span, edit.value
    if not isinstance(last, str):
        return None
    line = f"{written(last)} = {edit.value}"
    heading = document.value_span(table)
    if heading is not None and document.text.startswith("{", heading.start):
        ends = [end for end, _ in _keys(document, table)]
        if ends:
            return Span(max(ends), max(ends)), f", {line}"
        return heading, f"{{ {line} }}"
    keys = list(_keys(document, table))
    if keys:
        end, prefix = max(keys)
        return _below(document, end, prefix + line)
    if heading is not None:
        return _below(document, heading.end, _indent(document, heading.start) + line)
    return _at_the_end(document, table, line)


def _below(document: Document, end: int, line: str) -> tuple[Span, str]:
    """A line of its own under the one in which something ends."""
    newline = document.text.find("\n", end)
    if newline < 0:
        size = len(document.text)
        return Span(size, size), _line_end(document) + line
    return Span(newline + 1, newline + 1), line + _line_end(document)


def _at_the_end(document: Document, table: Path, line: str) -> tuple[Span, str] | None:
    """A table of its own, after all others."""
    names = [written(name) for name in table if isinstance(name, str)]
    if not names or len(names) < len(table):
        return None
    end = _line_end(document)
    gap = end if document.text.endswith("\n") else end * 2
    size = len(document.text)
    return Span(size, size), f"{gap}[{'.'.join(names)}]{end}{line}{end}"


def _line_end(document: Document) -> str:
    """As the first line of the file ends."""
    newline = document.text.find("\n")
    return "\r\n" if newline > 0 and document.text[newline - 1] == "\r" else "\n"


def _indent(document: Document, at: int) -> str:
    """What stands before a place in its line."""
    return document.text[document.text.rfind("\n", 0, at) + 1 : at]


def _keys(document: Document, table: Path) -> Iterator[tuple[int, str]]:
    """The keys in a table's own lines, not those under headings within it: where the value of each ends, and what stands
    before it in its line (dots included, where the table is made by dotted keys)."""
    for name in _table(document, table):
        child = (*table, name)
        key, span = document.key_span(child), document.value_span(child)
        if key is None:
            continue
        if span is None:  # made by dotted keys, or on the way to a heading
            for end, _ in _keys(document, child):
                yield end, _indent(document, key.start)
        elif not _is_heading(key, span):
            yield span.end, _indent(document, key.start)


def _is_heading(key: Span, value: Span) -> bool:
    """Whether a table stands under a heading: that counts as its value, and its name is in it."""
    return key.start >= value.start


def _table(document: Document, path: Path) -> dict[str, Any]:
    """The table that stands at a path; an empty one where there is none."""
    values: Any = document.values
    for step in path:
        try:
            values = values[step]
        except (KeyError, IndexError, TypeError):
            return {}
    return values if isinstance(values, dict) else {}


def _put(values: Any, path: Path, value: Any) -> bool:
    """Whether it could be put there."""
    *way, last = path
    holder: Any = values
    try:
        for step in way:
            holder = holder.setdefault(step, {}) if isinstance(holder, dict) else holder[step]
        holder[last] = value
    except (IndexError, TypeError):
        return False
    return True
