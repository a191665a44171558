"""Findings, reports and pictures as a notebook shows them: HTML that needs no style of ours, in a light or a dark one."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping

from setuplint.findings import Finding, Report
from setuplint.formats import case_text
from setuplint.formats.excerpt import excerpt
from setuplint.formats.numbers import of_hundred, percent
from setuplint.formats.summary import CAUTION
from setuplint.formats.terminal import FIXED_SPACE, Look
from setuplint.pages.html import tag, text
from setuplint.pages.report import decided, steps_of, text_lines, told_of, verdict

EDGES = {"danger": "#d0324c", "caution": "#a8700a", "notice": "#2b82a8"}  # 3:1 against white and against black
WIDTH = 90  # characters of a line of the file


def finding_html(finding: Finding) -> str:
    """A finding by itself: without the file, its place is a path in the set-up, and its case no more than the controls."""
    place = ".".join(map(str, finding.primary.path))
    return _block(finding, place, text(_case(finding)))


def report_html(report: Report) -> str:
    """What was found, what was decided, and the caution; the whole page is `report.to_html()`."""
    parts = [tag("p", f"{tag('code', text(report.name))}: {verdict(report)}")]
    for finding in report.findings:
        where = report.where(finding.primary)
        line, column = where.start
        case = text(case_text.sentence(finding, report.values)) + steps_of(report, finding)
        parts.append(_block(finding, f"{where.name}:{line}:{column}", case, "\n".join(_lines(report, finding))))
    parts.append(tag("details", tag("summary", "What was decided") + decided(report)))
    parts.append(tag("p", tag("small", text(CAUTION))))
    return tag("div", "\n".join(parts), class_="setuplint")


def picture_html(svg: str, title: str) -> str:
    """A picture that keeps its own style to itself."""
    return tag("img", src=f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}", alt=title)


def _lines(report: Report, finding: Finding) -> Iterable[str]:
    return excerpt(report, finding, Look(width=WIDTH))


def _block(finding: Finding, place: str, case: str, lines: str = "") -> str:
    head = tag("strong", text(f"{finding.signal.upper()} ")) + text(finding.message)
    about = tag("code", text(place)) + text(f" · {finding.rule}") if place else text(finding.rule)
    quoted = tag("pre", text_lines(lines)) if lines else ""
    edge = EDGES.get(finding.signal, "currentColor")
    return tag(
        "div",
        f"{tag('p', head)}{tag('p', about)}{quoted}{told_of(finding, case)}",
        style=f"border-left: 6px solid {edge}; padding-left: 0.8em; margin: 0.8em 0",
    )


def _case(finding: Finding) -> str:
    """`hold on, save pulled: motor +30 % (65 of 100)`."""
    if finding.steps:
        moves = "; then ".join(_controls(step) or "all at rest" for step in finding.steps)
    else:
        moves = _controls(finding.witness)
    given = ", ".join(
        f"{name} {percent(output)}" + (f" ({of_hundred(output)})" if name in finding.motors else "")
        for name, output in finding.outputs.items()
    )
    return ": ".join(filter(None, (moves, given))).replace(FIXED_SPACE, " ")


def _controls(step: Mapping[str, object]) -> str:
    return ", ".join(f"{name} {where}" for name, where in step.items())
