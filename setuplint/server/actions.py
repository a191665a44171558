"""What can be done to the text from where the cursor is: remedies, a softer curve, a waiver, a switch that is missing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from setuplint.findings import Edit, Finding
from setuplint.formats import toml
from setuplint.formats.patch import edited
from setuplint.library import soften
from setuplint.server.analysis import Analysis
from setuplint.server.names import path_at, value
from setuplint.setup.model import Setup
from setuplint.source import Document, Span

SOFT = (Fraction(6, 10), Fraction(5, 10))


class Change(NamedTuple):
    """Text in place of a part of a document."""

    document: Document
    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to offer: what it does, the finding that it answers (if any), and the change. `preferred`: the obvious one."""

    title: str
    changes: tuple[Change, ...]
    finding: Finding | None = None
    preferred: bool = False


def actions(analysis: Analysis, document: Document, span: Span) -> list[Action]:
    """All that is offered for a part of one of the set-up's texts."""
    here = [finding for finding in analysis.findings if _touches(analysis, finding, document, span)]
    return [
        *(action for finding in here for action in _remedy(analysis, finding)),
        *(action for finding in here for action in _missing_switch(analysis, finding)),
        *_softer(analysis, document, span),
        *(action for finding in here for action in _waiver(analysis, finding)),
    ]


def _touches(analysis: Analysis, finding: Finding, document: Document, span: Span) -> bool:
    where = analysis.report.where(finding.primary)
    return where.document is document and where.span.start <= span.end and span.start <= where.span.end


def _remedy(analysis: Analysis, finding: Finding) -> Iterator[Action]:
    """A finding's own edit. A shared part is other craft's too: it is not changed for one of them."""
    if finding.edit is None or analysis.texts.is_shared(finding.edit.path):
        return
    change = put(analysis.texts.own, finding.edit)
    if change is not None:
        path = ".".join(map(str, finding.edit.path))
        yield Action(f"set {path} = {finding.edit.value}", (change,), finding, preferred=True)


def put(document: Document, edit: Edit) -> Change | None:
    """The smallest change that makes the edit; None where it does not fit into the text as it is written."""
    text = edited(document, edit)
    if text is None:
        return None
    old = document.text
    start = next((n for n, (a, b) in enumerate(zip(old, text, strict=False)) if a != b), min(len(old), len(text)))
    most = min(len(old), len(text)) - start
    same = next((n for n in range(most) if old[-1 - n] != text[-1 - n]), most)
    return Change(document, Span(start, len(old) - same), text[start : len(text) - same])


def _softer(analysis: Analysis, document: Document, span: Span) -> Iterator[Action]:
    """A curve of the motor or the collective through its hover, made softer there."""
    path = path_at(document, span.start)
    if path is None or path[0] != "curves" or len(path) < 2 or document is not analysis.texts.own:
        return
    setup, name = analysis.setup, str(path[1])
    curve = setup.curves.get(name)
    hover = _hover(setup, name)
    if curve is None or hover is None:
        return
    for slope in SOFT:
        try:
            points = soften(hover, slope, (curve.points[0][1], curve.points[-1][1]), curve.smoothing)
        except ValueError:
            continue
        if points == curve.points:
            continue
        change = put(document, Edit(("curves", name, "points"), toml.value([list(point) for point in points])))
        if change is not None:
            yield Action(f"soften {name}: slope {float(slope):g} at the hover of {float(hover):+g} %", (change,))


def _hover(setup: Setup, curve: str) -> Fraction | None:
    """The hover of what the curve is for; None where it is for neither the motor nor the collective, or not known."""
    for channel in setup.channels.values():
        for line in (channel.own, *channel.lines.values()):
            if any(term.curve == curve for term in line.terms or ()):
                known = {"motor": setup.craft.hover_throttle, "collective": setup.craft.hover_collective}
                return known.get(channel.drives)
    return None


def _waiver(analysis: Analysis, finding: Finding) -> Iterator[Action]:
    """A waiver of just this, its reason left to be written: without one it is no waiver."""
    document = analysis.texts.own
    end = "" if document.text.endswith("\n") or not document.text else "\n"
    on = f"on = [{toml.value(finding.subject)}]\n" if finding.subject else ""
    text = f'{end}\n[[waivers]]\nrule = "{finding.rule}"\n{on}reason = ""\n'
    at = len(document.text)
    yield Action(f"waive {finding.rule} here (write why)", (Change(document, Span(at, at), text),), finding)


def _missing_switch(analysis: Analysis, finding: Finding) -> Iterator[Action]:
    """A switch that a formula or a channel names and nothing declares."""
    if finding.rule != "unknown-name" or not finding.subject:
        return
    document, word = analysis.texts.own, finding.subject
    if not _may_be_switch(analysis.texts.values, finding, word):
        return
    end = "" if document.text.endswith("\n") or not document.text else "\n"
    at = len(document.text)
    for kind, title in (("two-position", "a switch of two positions"), ("momentary", "a switch that springs back")):
        text = f'{end}\n[switches.{word}]\nkind = "{kind}"\n'
        yield Action(f"create {word}, {title}", (Change(document, Span(at, at), text),), finding)


def _may_be_switch(values: Mapping[str, object], finding: Finding, word: str) -> bool:
    """`there is no ... switch “x”`: a position, a mode or a curve that is missing is not one."""
    parts: Sequence[object] = finding.primary.path
    if parts[-1:] == ("curve",) or value(values, ("switches", word)) is not None:
        return False
    return "switch" in finding.message and "position" not in finding.message
