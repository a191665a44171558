"""What is shown of a text: what is wrong with it, and the findings that still hold while a line of it is being typed.

A text that can be read throughout is judged. While something cannot be read, that mistake is shown at once, and all earlier
findings stay: an unfinished line makes nothing else appear or vanish. After a pause the text is judged with its broken lines
as they were when they could be read last (`repair`), so that changes elsewhere count.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from setuplint.book import rulebook, run
from setuplint.book.loading import loading_findings
from setuplint.dataclass import dataclass, field, replace
from setuplint.engine.kept import Kept
from setuplint.findings import Edit, Finding, Report
from setuplint.library import proof_beside
from setuplint.server.parsed import ParsedText
from setuplint.server.repair import Relocation, faulty_lines, lines_of, repaired
from setuplint.setup import Texts

if TYPE_CHECKING:
    from setuplint.book.choices import Choices

of_thread = threading.local()  # `kept`: what was answered of texts before, by the thread that asks


NOT_TOML = "not-toml"


@dataclass(frozen=True, slots=True)
class Analysis:
    """What is shown of a text. `findings` are all of them, `report` has their places. With a broken text goes `basis`, the
    analysis of the last text that could be read throughout; its findings are those, carried over, unless nothing mends it."""

    parsed: ParsedText
    report: Report
    findings: tuple[Finding, ...]
    basis: Analysis | None = None
    is_carried: bool = False  # from an earlier text, or from this one with its broken lines as they were
    choices: Choices | None = None  # by which it was judged
    objections: dict[tuple[str, str, Edit], str] = field(default_factory=dict)
    """What speaks against remedies that were tried, by rule, subject and edit."""

    @property
    def texts(self) -> Texts:
        return self.parsed.texts

    @property
    def last_readable(self) -> Analysis | None:
        """This one, or the one that its findings come from."""
        return self if self.basis is None and self.parsed.is_readable else self.basis


def was_setup(before: Analysis | None) -> bool:
    """Whether what could be read last was a setup."""
    return before is not None and before.last_readable is not None and before.last_readable.parsed.is_setup


def quick_analysis(parsed: ParsedText, before: Analysis | None, choices: Choices | None = None) -> Analysis | None:
    """What can be shown of a text without judging it; None where it has to be judged. Where only comments and layout are
    new, all findings still hold; where the text is broken, the earlier ones stay."""
    if not parsed.is_setup and (parsed.is_readable or not was_setup(before)):
        return Analysis(parsed, Report(parsed.texts.name, parsed.texts), ())
    if not parsed.own.values:  # nothing stands any more that was found something in
        return Analysis(parsed, Report(parsed.texts.name, parsed.texts), tuple(_loading_findings(parsed)))
    if before is None:
        return None
    basis = before.last_readable
    same = basis is not None and parsed.says_the_same_as(basis.parsed)
    if not same and not parsed.is_readable:
        return carried_analysis(parsed, before, exact=False)
    if basis is None or not same or basis.choices != choices:
        return None
    report = replace(basis.report, texts=parsed.texts)
    return Analysis(parsed, report, _sorted_findings(report, basis.findings), choices=choices)


def carried_analysis(parsed: ParsedText, before: Analysis, *, exact: bool = True) -> Analysis:
    """The earlier findings at their new places, and what is wrong with the text itself. Where that is broken TOML and it need not
    be `exact`, what was wrong with the setup is carried over as well, but not in the broken lines."""
    report = replace(before.report, texts=parsed.texts)
    relocation = Relocation(before.report, before.parsed, parsed)
    kept = list(relocation.findings(each for each in before.findings if not is_of_loading(each)))
    if exact or not parsed.is_faulty:
        found = list(_loading_findings(parsed))
    else:
        found = list(loading_findings(parsed.texts, (), rulebook.rules()))
        bad = faulty_lines(parsed.own)
        earlier = relocation.findings(x for x in before.findings if is_of_loading(x) and x.rule != NOT_TOML)
        places = ((finding, report.where(finding.primary)) for finding in earlier)
        found += (
            x for x, at in places if at.document is not parsed.own or bad.isdisjoint(lines_of(parsed.own, at.span))
        )
    return Analysis(parsed, report, _sorted_findings(report, (*found, *kept)), before.last_readable, is_carried=True)


def full_analysis(
    parsed: ParsedText,
    before: Analysis | None = None,
    choices: Choices | None = None,
    before_each: Callable[[], None] | None = None,
) -> Analysis:
    """A text as judged by all rules; a broken one as it is where no earlier lines mend it. `before_each` is called before
    each rule; what it raises ends the work."""
    basis = before.last_readable if before is not None else None
    if parsed.is_readable or basis is None:
        return _lint(parsed, choices, before_each)
    other = repaired(parsed, basis.parsed, before_each)
    if other is None:
        return replace(_lint(parsed, choices, before_each), basis=basis)
    if other.content != basis.parsed.content or basis.choices != choices:
        basis = _lint(other, choices, before_each)
    return carried_analysis(parsed, basis)


def _lint(parsed: ParsedText, choices: Choices | None, before_each: Callable[[], None] | None) -> Analysis:
    records = proof_beside(parsed.folder, choices)
    if not hasattr(of_thread, "kept"):
        of_thread.kept = Kept()
    report = run.lint(
        parsed.texts, parsed.setup, parsed.problems, choices=choices, before_each=before_each, records=records,
        kept=of_thread.kept,
    )  # fmt: skip
    return Analysis(parsed, report, report.findings, choices=choices)


def _loading_findings(parsed: ParsedText) -> Iterator[Finding]:
    """What keeps a text from being read, as findings."""
    return loading_findings(parsed.texts, parsed.problems, rulebook.rules())


def is_of_loading(finding: Finding) -> bool:
    """Whether it tells what keeps a text from being read."""
    rule = rulebook.rules().get(finding.rule)
    return rule is not None and rule.asked == "loading"


def _sorted_findings(report: Report, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return run.in_order(replace(report, findings=findings, waived=())).findings
