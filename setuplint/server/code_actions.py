"""What can be done at the cursor: remedies, a softer curve, a waiver, a missing part.

A remedy is preferred where `lint --fix` would apply it: a lint after it is better, and outputs are proved to change in no
state but those of the hazard. The titles of all others say what speaks against them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from setuplint.book import rulebook
from setuplint.book.choices import Choices
from setuplint.dataclass import dataclass
from setuplint.findings import Edit, Finding, Place
from setuplint.fixes import change_elsewhere, new_finding, objection
from setuplint.formats import toml
from setuplint.formats.patch import edited_text
from setuplint.server.analysis import Analysis, full_analysis
from setuplint.server.corrections import corrections
from setuplint.server.edits import Replacement, line_end, smallest_replacement
from setuplint.server.parsed import ParsedText
from setuplint.server.table_pieces import path_at
from setuplint.setup.declarations import DEFAULT_POSITIONS
from setuplint.setup.problems import value_at
from setuplint.source import Document, Span, parsed_document

MOST_TRIED = 12  # remedies that are tried for one request: each costs a lint
CORRECTABLE = frozenset(("not-toml", "not-a-setup", "unknown-name", "setuplint.toml"))  # about what cannot be read
NAME = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")
MISSING = re.compile(r"there is no ([a-z, ]+) “[^”]*”")


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to offer: what it does, the finding that it answers (if any), and the change. `preferred`: nothing speaks
    against it."""

    title: str
    change: Replacement
    finding: Finding | None = None
    preferred: bool = False


@dataclass(slots=True)
class ActionContext:
    """What the actions of one request are made from. `parsed` parses another text in place of the setup's own; `left` are the
    remedies that may still be tried."""

    analysis: Analysis
    span: Span
    parsed: Callable[[str], ParsedText]
    choices: Choices | None
    left: int = MOST_TRIED

    def judged(self, text: str) -> Analysis:
        return full_analysis(self.parsed(text), choices=self.choices)

    def problem_count(self, text: str) -> int:
        return self.parsed(text).problem_count

    @property
    def findings(self) -> list[Finding]:
        """The findings there."""
        return [each for each in self.analysis.findings if touches(self.analysis, each.primary, self.span)]

    def objection_to(self, finding: Finding, edit: Edit, text: str) -> str:
        """What speaks against a remedy, as `lint --fix` has it; empty where that would apply it."""
        analysis = self.analysis
        if analysis.is_carried:
            return "not tried: the text is broken"
        key = (finding.rule, finding.subject, edit)
        if key not in analysis.objections:
            if self.left == 0:
                return "not tried: there are many at once"
            self.left -= 1
            after = self.judged(text)
            bad = objection(finding, analysis.report, after.report)
            analysis.objections[key] = bad or change_elsewhere(finding, analysis.parsed.setup, after.parsed.setup)
        return analysis.objections[key]

    def new_findings(self, edit: Edit, text: str) -> str:
        """What an edit brings, in words; empty where the text is broken."""
        analysis, key = self.analysis, ("", "", edit)
        if not analysis.is_carried and key not in analysis.objections:
            analysis.objections[key] = new_finding(analysis.report, self.judged(text).report)
        return analysis.objections.get(key, "")


def actions(context: ActionContext) -> list[Action]:
    """All that is offered for a span of a setup's own text."""
    analysis, here = context.analysis, context.findings
    never_waive = context.choices.never_waive if context.choices is not None else frozenset()
    found = [action for finding in here for action in _remedies(context, finding)]
    found += correction_actions(analysis, context.span, context.problem_count)
    found += [action for finding in here for action in _missing_parts(analysis, finding)]
    found += _softer_curves(context)
    for finding in here:
        if not {finding.rule, finding.signal} & never_waive:
            found += _waivers(analysis, finding)
    return found


def touches(analysis: Analysis, place: Place, span: Span) -> bool:
    """Whether a place of the setup's own text meets a span; places in shared files are shown at `extends`."""
    where = analysis.report.where(place)
    own = analysis.parsed.own
    shown = where.span if where.document is own else own.span(("extends",))
    return shown.start <= span.end and span.start <= shown.end


def _remedies(context: ActionContext, finding: Finding) -> Iterator[Action]:
    """A finding's own edit. Other craft use a shared file too: it is not changed for one of them."""
    edit, analysis = finding.edit, context.analysis
    if edit is None or analysis.texts.is_shared(edit.path):
        return
    document = analysis.parsed.own
    text = edited_text(document, edit)
    if text is None:
        return
    because = context.objection_to(finding, edit, text)
    key = ".".join(str(step) for step in edit.path)
    title = f"set {key} = {edit.value}" + (f" ({because})" if because else "")
    yield Action(title, smallest_replacement(document, text), finding, preferred=not because)


def _softer_curves(context: ActionContext) -> Iterator[Action]:
    """The curve that is named or declared there, softer where the craft hovers on it."""
    from setuplint.pages import softening

    parsed = context.analysis.parsed
    name = _curve_name(parsed, context.span.start)
    for softer in softening.softer_curves(parsed.setup, name) if name in parsed.setup.curves else ():
        text = edited_text(parsed.own, softer.edit)
        if text is not None and text != parsed.own.text:
            because = context.new_findings(softer.edit, text)
            title = softer.title + (f" ({because})" if because else "")
            yield Action(title, smallest_replacement(parsed.own, text))


def _curve_name(parsed: ParsedText, offset: int) -> str:
    here, path = parsed.occurrence_at(offset), path_at(parsed.own, offset)
    if here is not None and here.name.kind == "curve":
        return here.name.word
    return str(path[1]) if path is not None and path[0] == "curves" and len(path) > 1 else ""


def _waivers(analysis: Analysis, finding: Finding) -> Iterator[Action]:
    """A waiver of just this finding. Its reason is left to the pilot: without one it is no waiver."""
    unread = finding.rule == "not-toml" or finding.primary.path == ("format",)  # of another format no waiver is read
    if unread or finding.rule in rulebook.names_asked("afterwards"):
        return
    on = f"on = [{toml.toml_value(finding.subject)}]\n" if finding.subject else ""
    change = appended_table(analysis.parsed.own, f'[[waivers]]\nrule = "{finding.rule}"\n{on}reason = ""\n')
    if change is not None:
        of = f" of {finding.subject}" if finding.subject else ""
        yield Action(f"waive {finding.rule}{of} (the reason is left to write)", change, finding)


def appended_table(document: Document, text: str) -> Replacement | None:
    """A table at the end of a text; None where it cannot be read there."""
    gap = "" if not document.text else "\n" if document.text.endswith("\n") else "\n\n"
    added = (gap + text).replace("\n", line_end(document.text))
    again = parsed_document(document.text + added)
    if len(again.problems) > len(document.problems):
        return None
    size = len(document.text)
    return Replacement(document, Span(size, size), added)


def _missing_parts(analysis: Analysis, finding: Finding) -> Iterator[Action]:
    """A declaration of the part that is missing."""
    missing = MISSING.match(finding.message)
    where = analysis.report.where(finding.primary)
    if finding.rule != "unknown-name" or where.document is not analysis.parsed.own:
        return
    word = finding.subject
    if missing is None or not NAME.fullmatch(word):
        return
    for kind, declaration in DECLARATIONS.items():
        text = declaration(analysis.parsed, word) if kind in missing.group(1) else ""
        change = appended_table(analysis.parsed.own, text) if text else None
        if change is not None:
            yield Action(f"create the {kind} {word}", change, finding)


def _switch_declaration(parsed: ParsedText, word: str) -> str:
    """A switch with the positions that formulas ask for."""
    names = (each.name for each in parsed.occurrences)
    asked = list(dict.fromkeys(name.word for name in names if name.kind == "position" and name.of == word))
    for kind, usual in DEFAULT_POSITIONS.items():
        if set(asked) <= set(usual):
            return f'[switches.{word}]\nkind = "{kind}"\n'
    if len(asked) == 1:
        asked.insert(0, "off")
    kind = {2: "two-position", 3: "three-position"}.get(len(asked), "selector")
    return f'[switches.{word}]\nkind = "{kind}"\npositions = [{", ".join(map(toml.toml_value, asked))}]\n'


def _condition_declaration(parsed: ParsedText, word: str) -> str:
    return f'[conditions.{word}]\nwhen = ""\n'


def _knob_declaration(parsed: ParsedText, word: str) -> str:
    return f"[knobs.{word}]\n" if value_at(parsed.texts.values, ("knobs", word)) is None else ""


DECLARATIONS: dict[str, Callable[[ParsedText, str], str]] = {
    "switch": _switch_declaration,
    "condition": _condition_declaration,
    "knob": _knob_declaration,
}


def correction_actions(analysis: Analysis, span: Span, problem_count: Callable[[str], int]) -> Iterator[Action]:
    """What was meant by what cannot be read there."""
    own = analysis.parsed.own
    for finding in analysis.findings:
        where = analysis.report.where(finding.primary)
        if finding.rule in CORRECTABLE and where.document is own and touches(analysis, finding.primary, span):
            for written, text in corrections(own, where.span, finding, problem_count):
                yield Action(f"write {written}", smallest_replacement(own, text), finding, preferred=True)
