"""What a report says beside its findings, as a document: what is waived, in the baseline or not judged."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.findings import Report
from setuplint.formats.document import Block, Bullets, Heading, Paragraph
from setuplint.formats.numbers import counted
from setuplint.formats.summary import Summary, WaivedFinding, of_subject, open_by_cause, summary_of


def decided_document(report: Report) -> Iterator[Block]:
    """Over what it was decided, and what is not among the findings."""
    summary = summary_of(report)
    by = f", by {report.config}." if report.config else "."
    yield Paragraph(
        f"{counted(report.rules, 'rule')}, over {counted(report.states, 'state')} of the controls; "
        f"edition {report.edition} of the rules{by}"
    )
    baseline = (f"{each.signal}: {each.message} [{each.rule}{of_subject(each.subject)}]" for each in report.baselined)
    for title, lines in (
        ("Waived", map(_waived, summary.covered)),
        ("Also said", (f"{each.message} ({each.file}:{each.line})" for each in summary.remarks)),
        ("In the baseline", baseline),
        ("Not judged", _not_judged(summary)),
    ):
        items = list(lines)
        if items:
            yield Heading(3, title)
            yield Bullets(items)


def _waived(each: WaivedFinding) -> str:
    until = f"until {each.until}" if each.until else "without an end"
    words = f"{each.signal}: {each.message} [{each.rule}{of_subject(each.subject)}]"
    return f"{words}. Waived {until}: {each.reason} ({each.file}:{each.line})"


def _not_judged(summary: Summary) -> Iterator[str]:
    """By what would let it be judged."""
    for because, cause in open_by_cause(summary.open).items():
        yield f"Because {because}: {', '.join(cause.rules)}"
