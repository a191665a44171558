"""What can be done to the text from where the cursor is: remedies, a softer curve, a waiver, a part that is missing.

A remedy is preferred where `lint --fix` would apply it: a lint after it is better, and outputs are proved to change in no
state but those of the hazard. All others say in their titles what speaks against them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from setuplint.book import run
from setuplint.findings import Edit, Finding, Place
from setuplint.fixes import change_elsewhere, new_finding, objection
from setuplint.formats import toml
from setuplint.formats.patch import edited
from setuplint.server.analysis import Analysis, Reading
from setuplint.server.corrections import corrections
from setuplint.server.names import path_at, value
from setuplint.source import Document, Span, read

MOST = 12  # remedies that are tried for one request, where nothing is known of them: each costs a lint
KINDS = {("released", "pulled"): "momentary", ("off", "on"): "two-position", ("up", "middle", "down"): "three-position"}
UNWAIVABLE = run.AFTERWARDS | {"not-toml"}  # they speak of waivers, or of text that is none
READ = frozenset(("not-toml", "not-a-setup", "unknown-name", "setuplint.toml"))  # they speak of what cannot be read
NAMED = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")
MISSING = re.compile(r"there is no ([a-z, ]+) “[^”]*”")


class Change(NamedTuple):
    """Text in place of a part of a document."""

    document: Document
    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to offer: what it does, the finding that it answers (if any), and the change. `preferred`: nothing speaks
    against it."""

    title: str
    change: Change
    finding: Finding | None = None
    preferred: bool = False


def actions(
    analysis: Analysis,
    span: Span,
    never_waive: Collection[str],
    judge: Callable[[str], Analysis],
    problems: Callable[[str], int],
) -> list[Action]:
    """All that is offered for a part of a set-up's own text. `judge` judges a text that stands in its place, `problems` counts
    what of it cannot be read."""
    left = MOST

    def against(finding: Finding, edit: Edit, text: str) -> str:
        nonlocal left
        key = (finding.rule, finding.subject, edit)
        if key not in analysis.tried:
            if left == 0:
                return "not tried: there are many at once"
            left -= 1
            analysis.tried[key] = _against(analysis, finding, judge(text))
        return analysis.tried[key]

    def brings(edit: Edit, text: str) -> str:
        """What speaks then that does not speak now."""
        key = ("", "", edit)
        if analysis.whole is None and key not in analysis.tried:
            analysis.tried[key] = new_finding(analysis.report, judge(text).report)
        return analysis.tried.get(key, "")

    here = [finding for finding in analysis.findings if touches(analysis, finding.primary, span)]
    found = [action for finding in here for action in _remedy(analysis, finding, against)]
    found += corrected(analysis, span, problems)
    found += [action for finding in here for action in _missing(analysis, finding)]
    found += _softer(analysis, span, brings)
    return found + [
        action
        for finding in here
        if not {finding.rule, finding.signal} & set(never_waive)
        for action in _waiver(analysis, finding)
    ]


def touches(analysis: Analysis, place: Place, span: Span) -> bool:
    """Whether a place of the set-up's own text meets a span; what stands in a shared part is shown at `extends`."""
    where = analysis.report.where(place)
    own = analysis.reading.own
    mine = where.span if where.document is own else own.span(("extends",))
    return mine.start <= span.end and span.start <= mine.end


def _against(analysis: Analysis, finding: Finding, after: Analysis) -> str:
    """What speaks against a remedy, as `lint --fix` has it; empty where it would apply it."""
    bad = objection(finding, analysis.report, after.report)
    return bad or change_elsewhere(finding, analysis.reading.setup, after.reading.setup)


def _remedy(analysis: Analysis, finding: Finding, against: Callable[[Finding, Edit, str], str]) -> Iterator[Action]:
    """A finding's own edit. A shared part is other craft's too: it is not changed for one of them."""
    edit = finding.edit
    if edit is None or analysis.texts.is_shared(edit.path):
        return
    document = analysis.reading.own
    text = edited(document, edit)
    if text is None:
        return
    because = against(finding, edit, text) if analysis.whole is None else "not tried: the text is broken"
    where = ".".join(str(step) for step in edit.path)
    title = f"set {where} = {edit.value}" + (f" ({because})" if because else "")
    yield Action(title, smallest(document, text), finding, preferred=not because)


def smallest(document: Document, text: str) -> Change:
    """The smallest change that makes a text of a document."""
    old = document.text
    most = min(len(old), len(text))
    start = next((n for n in range(most) if old[n] != text[n]), most)
    same = next((n for n in range(most - start) if old[-1 - n] != text[-1 - n]), most - start)
    return Change(document, Span(start, len(old) - same), text[start : len(text) - same])


def _softer(analysis: Analysis, span: Span, brings: Callable[[Edit, str], str]) -> Iterator[Action]:
    """The curve that is named or declared there, softer where the craft hovers on it."""
    from setuplint.server import softening

    own, setup = analysis.reading.own, analysis.reading.setup
    use, path = analysis.reading.name_at(span.start), path_at(own, span.start)
    name = use.name.word if use is not None and use.name.kind == "curve" else ""
    if not name and path is not None and path[0] == "curves" and len(path) > 1:
        name = str(path[1])
    for softer in softening.softer(setup, name) if name in setup.curves else ():
        text = edited(own, softer.edit)
        if text is not None and text != own.text:
            because = brings(softer.edit, text)
            yield Action(softer.title + (f" ({because})" if because else ""), smallest(own, text))


def _waiver(analysis: Analysis, finding: Finding) -> Iterator[Action]:
    """A waiver of just this, its reason left to be written: without one it is no waiver."""
    if finding.rule in UNWAIVABLE:
        return
    on = f"on = [{toml.value(finding.subject)}]\n" if finding.subject else ""
    change = at_the_end(analysis.reading.own, f'[[waivers]]\nrule = "{finding.rule}"\n{on}reason = ""\n')
    if change is not None:
        of = f" of {finding.subject}" if finding.subject else ""
        yield Action(f"waive {finding.rule}{of} (the reason is left to write)", change, finding)


def at_the_end(document: Document, text: str) -> Change | None:
    """A table after all others; None where it cannot stand there."""
    ending = "\r\n" if "\r\n" in document.text else "\n"
    gap = "" if not document.text else "\n" if document.text.endswith("\n") else "\n\n"
    added = (gap + text).replace("\n", ending)
    again = read(document.text + added)
    if len(again.problems) > len(document.problems):
        return None
    size = len(document.text)
    return Change(document, Span(size, size), added)


def _missing(analysis: Analysis, finding: Finding) -> Iterator[Action]:
    """The part that is missing, made."""
    missing = MISSING.match(finding.message)
    where = analysis.report.where(finding.primary)
    if finding.rule != "unknown-name" or where.document is not analysis.reading.own:
        return
    word = finding.subject
    if missing is None or not NAMED.fullmatch(word):
        return
    wanted = missing.group(1)
    for kind, make in (("switch", _switch), ("condition", _condition), ("knob", _knob)):
        text = make(analysis.reading, word) if kind in wanted else ""
        change_ = at_the_end(analysis.reading.own, text) if text else None
        if change_ is not None:
            yield Action(f"create the {kind} {word}", change_, finding)


def corrected(analysis: Analysis, span: Span, problems: Callable[[str], int]) -> Iterator[Action]:
    """What was meant by what cannot be read there; `problems` counts what is wrong with a text in its place."""
    own = analysis.reading.own
    for finding in analysis.findings:
        where = analysis.report.where(finding.primary)
        if finding.rule in READ and where.document is own and touches(analysis, finding.primary, span):
            for written, text in corrections(own, where.span, finding, problems):
                yield Action(f"write {written}", smallest(own, text), finding, preferred=True)


def _switch(reading: Reading, word: str) -> str:
    """A switch with the positions that are asked for."""
    asked = list(
        dict.fromkeys(use.name.word for use in reading.uses if use.name.kind == "position" and use.name.of == word)
    )
    for usual, kind in KINDS.items():
        if set(asked) <= set(usual):
            return f'[switches.{word}]\nkind = "{kind}"\n'
    if len(asked) == 1:
        asked.insert(0, "off")
    kind = {2: "two-position", 3: "three-position"}.get(len(asked), "selector")
    return f'[switches.{word}]\nkind = "{kind}"\npositions = [{", ".join(map(toml.value, asked))}]\n'


def _condition(reading: Reading, word: str) -> str:
    return f'[conditions.{word}]\nwhen = ""\n'


def _knob(reading: Reading, word: str) -> str:
    return f"[knobs.{word}]\n" if value(reading.texts.values, ("knobs", word)) is None else ""
