"""Findings as an editor shows them: a diagnostic each, with the places of its case as related information."""

from __future__ import annotations

from collections.abc import Iterator

from lsprotocol import types as lsp

from setuplint.findings import Finding, Place, Value, shortened
from setuplint.formats import case_text
from setuplint.formats.control_words import ControlWords
from setuplint.formats.step_outputs import outputs_on_the_way
from setuplint.formats.summary import Overflow
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.server.analysis import Analysis, is_of_loading
from setuplint.server.corrections import MEANT
from setuplint.server.occurrences import CONTROL_TABLES
from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.setup.problems import capitalised, value_at
from setuplint.source import Document, Path, Span

SOURCE = "setuplint"
CARRIED = "Until it is mended the rest is judged as it was before."
SEVERITY = {
    "danger": lsp.DiagnosticSeverity.Error,
    "caution": lsp.DiagnosticSeverity.Warning,
    "notice": lsp.DiagnosticSeverity.Information,
}
UNREADABLE = frozenset(("not-toml", "not-a-setup"))  # what to do is short there, and said at once
NEEDLESS = frozenset(("part-unused", "override-shadowed", "mode-unreachable", "waiver-unneeded"))
REMARKS = ("ends-soon", "refused", "changed")  # the others are for the summary


class Diagnostics:
    """One analysis as diagnostics. `related`: whether the editor shows related information."""

    def __init__(self, files: OpenFiles, file: OpenFile, analysis: Analysis, *, related: bool = True) -> None:
        self.files, self.file, self.analysis, self.related = files, file, analysis, related
        self.sifted = file.club.sifted(analysis, file.path)
        self._known = {id(finding) for finding in self.sifted.baselined}
        self._lines = {id(document): files.lines(analysis.parsed, document) for document in analysis.texts}

    def range(self, document: Document, span: Span) -> lsp.Range:
        return self._lines[id(document)].range(span)

    def location(self, document: Document, span: Span) -> lsp.Location:
        own = document is self.analysis.parsed.own
        uri = self.file.uri if own else self.files.uri_of(self.files.path_of(self.file, document))
        return lsp.Location(uri, self.range(document, span))

    def diagnostics(self) -> list[lsp.Diagnostic]:
        first, more = shortened(self.analysis.findings)
        found = [self.diagnostic(finding) for finding in first]
        found += [self.overflow(*of, number) for of, number in more.items()]
        if self.analysis.is_carried:
            for told in [each for each, finding in zip(found, first, strict=False) if is_of_loading(finding)][:1]:
                told.message += f"\n{CARRIED}"
        else:
            waivers = (x for x in self.sifted.remarks if x.kind in REMARKS)
            found += [self.remark(remark.message, remark.primary) for remark in waivers]
        if self.file.club.error and self.analysis.parsed.is_setup:
            found.insert(0, error_diagnostic(self.file.club.error))
        return found

    def diagnostic(self, finding: Finding) -> lsp.Diagnostic:
        where = self.analysis.report.where(finding.primary)
        own = self.analysis.parsed.own
        span = where.span if where.document is own else own.span(("extends",))
        return lsp.Diagnostic(
            self.range(own, span),
            self.message(finding),
            lsp.DiagnosticSeverity.Hint if id(finding) in self._known else SEVERITY[finding.signal],
            code=finding.rule,
            source=SOURCE,
            tags=[lsp.DiagnosticTag.Unnecessary] if finding.rule in NEEDLESS else None,
            related_information=list(self.related_places(finding)) if self.related else None,
        )

    def overflow(self, rule: str, signal: str, number: int) -> lsp.Diagnostic:
        words = Overflow(self.file.name, rule, signal, number).words
        start = lsp.Range(lsp.Position(0, 0), lsp.Position(0, 1))
        return lsp.Diagnostic(start, words, SEVERITY[signal], code=rule, source=SOURCE)

    def remark(self, message: str, place: Place) -> lsp.Diagnostic:
        where = self.analysis.report.where(place)
        span = self.range(where.document, where.span)
        return lsp.Diagnostic(span, plain(message), lsp.DiagnosticSeverity.Hint, code="waiver", source=SOURCE)

    def message(self, finding: Finding) -> str:
        """What is wrong, and what shows it on the bench."""
        lines = [plain(finding.message)]
        meant = MEANT.search(finding.remedy)
        if meant is not None:
            lines.append(f"D{meant.group()[1:]}")
        elif finding.rule in UNREADABLE and finding.remedy:
            lines.append(capitalised(finding.remedy))
        case = case_text.case_sentence(finding, self.analysis.report.values)
        if case:
            lines.append(f"On the bench: {case}")
        if finding.status == "advice":
            lines.append("Advice: a rule of thumb, or worked out from estimates, not a proof.")
        if id(finding) in self._known:
            lines.append(f"Known: this {finding.signal} is in the baseline.")
        return "\n".join(lines).replace(FIXED_SPACE, " ")

    def related_places(self, finding: Finding) -> Iterator[lsp.DiagnosticRelatedInformation]:
        """The finding itself where it is in a shared file, what it is related to, and its case, control by control or step by
        step, each where the control is declared."""
        report = self.analysis.report
        if report.where(finding.primary).document is not self.analysis.parsed.own:
            yield self.related_information(finding.primary, "here, in the shared part")
        for place in finding.related:
            yield self.related_information(place, plain(place.caption) or "see here")
        controls = ControlWords(report.values, finding.pack)
        if not finding.steps:
            for control, value in finding.witness.items():
                yield self.related_information(self.declaration(control, finding), _setting(controls, control, value))
            return
        steps = case_text.case_steps(finding, report.values, outputs_on_the_way(report, finding))
        for number, step in enumerate(steps, start=1):
            moved = finding.steps[number - 1] if number <= len(finding.steps) else {}
            place = self.declaration(next(iter(moved), ""), finding)
            gives = f": {', '.join(step.gives)}" if step.gives else ""
            yield self.related_information(place, f"step {number}: {step.move}{gives}")

    def declaration(self, control: str, finding: Finding) -> Place:
        """Where a control is declared; the finding's own place if it is not."""
        values = self.analysis.report.values
        paths: Iterator[Path] = ((table, control) for table in CONTROL_TABLES)
        found = next((path for path in paths if value_at(values, path) is not None), None)
        return finding.primary if found is None else Place(found)

    def related_information(self, place: Place, words: str) -> lsp.DiagnosticRelatedInformation:
        where = self.analysis.report.where(place)
        location = self.location(where.document, where.span)
        return lsp.DiagnosticRelatedInformation(location, words.replace(FIXED_SPACE, " "))


def _setting(controls: ControlWords, control: str, value: Value) -> str:
    """How a control stands: moved, or left at rest."""
    return controls.move(control, value) if controls.moved(control, value) else controls.kept(control, value)


def error_diagnostic(message: str) -> lsp.Diagnostic:
    """An error that is not in the text itself, at its first character."""
    start = lsp.Range(lsp.Position(0, 0), lsp.Position(0, 1))
    return lsp.Diagnostic(start, plain(message), lsp.DiagnosticSeverity.Warning, code="setuplint.toml", source=SOURCE)


def fault_diagnostic(error: Exception) -> lsp.Diagnostic:
    """A fault of ours, shown where the pilot sees it."""
    return error_diagnostic(f"this is a fault of setuplint, please report it: {type(error).__name__}: {error}")
