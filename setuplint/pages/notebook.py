"""Findings, reports and pictures as a notebook shows them: HTML that needs no style of ours, in a light or a dark one."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping

from setuplint.comparison.changes import Comparison
from setuplint.findings import Finding, Report, shortened
from setuplint.formats.case_text import last_deed
from setuplint.formats.change_words import joint_controls
from setuplint.formats.comparison_document import comparison_document
from setuplint.formats.decided_document import decided_document
from setuplint.formats.document import Block, Fold
from setuplint.formats.document_text import document_lines
from setuplint.formats.finding_text import finding_item
from setuplint.formats.numbers import counted, of_hundred, percent
from setuplint.formats.summary import CAUTION, overflow, summary_of
from setuplint.formats.terminal import FIXED_SPACE, Look
from setuplint.pages.curve_charts import channel_charts, curve_chart
from setuplint.pages.document_html import document_html, words_html
from setuplint.pages.html import tag, text
from setuplint.pages.override_map import override_maps
from setuplint.pages.picture import curve_picture, map_picture
from setuplint.pages.report_findings import case_html, lines_html, notes_html
from setuplint.setup.model import Setup

EDGES = {"danger": "#d0324c", "caution": "#a8700a", "notice": "#2b82a8"}  # 3:1 against white and against black
WIDTH = 90  # characters of a line of the file


def finding_html(finding: Finding) -> str:
    """A finding by itself: without the file, its place is a path in the set-up, and its case no more than the controls."""
    place = ".".join(map(str, finding.primary.path))
    return _finding_block(finding, place, text(case_words(finding)))


def report_html(report: Report) -> str:
    """What was found, what was decided, and the caution; the whole page is `report.to_html()`."""
    blocks = [tag("p", f"{tag('code', text(report.name))}: {words_html(summary_of(report).tally.words())}")]
    for finding in shortened(report.findings).findings:
        place, lines = finding_item(report, finding).place, lines_html(report, finding, WIDTH)
        blocks.append(_finding_block(finding, place, case_html(report, finding), lines))
    blocks += [tag("p", text(f"{more.words}.")) for more in overflow(report)]
    blocks.append(document_html([Fold("What was decided", list(decided_document(report)))]))
    blocks.append(tag("p", tag("small", text(CAUTION))))
    return tag("div", "\n".join(blocks), class_="setuplint")


def comparison_html(comparison: Comparison) -> str:
    """What the craft does differently, with a case for each, and the caution."""
    blocks = document_html(comparison_blocks(comparison)) + tag("p", tag("small", text(CAUTION)))
    return tag("div", blocks, class_="setuplint")


def comparison_text(comparison: Comparison) -> str:
    """The same without the caution, as plain text."""
    return "\n".join(document_lines(comparison_blocks(comparison), Look()))


def comparison_blocks(comparison: Comparison) -> list[Block]:
    """A comparison that the library made, as a document."""
    values = joint_controls(*[report.values for report in comparison.reports])
    return list(comparison_document(comparison, comparison.reports, values))


def setup_html(setup: Setup, problems: int) -> str:
    """A set-up: who can take which channel, and what its motor and its collective do along their sticks."""
    blocks = [tag("p", tag("strong", text(setup.craft.name)))]
    if problems:
        blocks.append(tag("p", text(f"{counted(problems, 'part')} of it could not be read: .problems has them.")))
    pictures = [(map_picture(each), each.title) for each in override_maps(setup)]
    pictures += [(curve_picture(chart), chart.title) for chart, _ in channel_charts(setup)]
    blocks += [picture_html(svg, title) for svg, title in pictures]
    return tag("div", "\n".join(blocks), class_="setuplint")


class DrawnCurve:
    """A curve of a setup. `points` are (stick, value) in percent, exact; `smoothing` as the file has it."""

    def __init__(self, model: Setup, name: str) -> None:
        self._model, self.name = model, name
        self.points, self.smoothing = model.curves[name].points, model.curves[name].smoothing

    def svg(self) -> str:
        """A picture of it with its points, as flown after smoothing, beside a straight line, and with what smoothing does to
        it marked: a whole SVG document, light or dark as its reader has it."""
        return curve_picture(curve_chart(self._model, self.name))

    def _repr_html_(self) -> str:
        """How a notebook shows it."""
        return picture_html(self.svg(), f"curve {self.name}")

    def __repr__(self) -> str:
        return f"<setuplint curve {self.name!r}>"


def picture_html(svg: str, title: str) -> str:
    """A picture that keeps its own style to itself."""
    return tag("img", src=f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}", alt=title)


def _finding_block(finding: Finding, place: str, case: str, lines: str = "") -> str:
    head = tag("strong", text(f"{finding.signal.upper()} ")) + text(finding.message)
    about = tag("code", text(place)) + text(f" · {finding.rule}") if place else text(finding.rule)
    edge = EDGES.get(finding.signal, "currentColor")
    return tag(
        "div",
        f"{tag('p', head)}{tag('p', about)}{lines}{notes_html(finding, case)}",
        style=f"border-left: 6px solid {edge}; padding-left: 0.8em; margin: 0.8em 0",
    )


def case_words(finding: Finding) -> str:
    """`hold on, save pulled: motor +30 % (65 of 100)`."""
    if finding.steps:
        moves = "; then ".join(_control_words(step) or "all at rest" for step in finding.steps)
    else:
        moves = _control_words(finding.witness)
    moves = "; then ".join(filter(None, (moves, last_deed(finding))))
    given = ", ".join(
        f"{name} {percent(output)}" + (f" ({of_hundred(output)})" if name in finding.motors else "")
        for name, output in finding.outputs.items()
    )
    return ": ".join(filter(None, (moves, given))).replace(FIXED_SPACE, " ")


def _control_words(step: Mapping[str, object]) -> str:
    return ", ".join(f"{name} {where}" for name, where in step.items())
