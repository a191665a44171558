"""Drawings as files of their own: self-contained SVG, light or dark as its reader has it."""

from __future__ import annotations

from textwrap import wrap

from setuplint.formats.numbers import percent
from setuplint.formats.terminal import plain
from setuplint.pages import charts
from setuplint.pages.charts import HEIGHT, WIDTH, Chart
from setuplint.pages.html import asset, tag, text
from setuplint.pages.override_map import NUMBERED, OverrideMap
from setuplint.pages.report_curves import line_words

ROW = 17
LEAST = 560  # wide enough for the words of a map
WORDS = 66  # characters in a line of a legend


def curve_picture(chart: Chart) -> str:
    """A drawing of curves, with its title above and its legend below."""
    rows: list[tuple[str, str, str]] = [  # what stands before it, and the words
        *((charts.legend_key(n), "", line_words(line)) for n, line in enumerate(chart.lines)),
        (tag("path", d="M1 6H29", class_="straight"), "", "straight, for comparison"),
    ]
    if chart.off is not None:
        rows.append((tag("path", d="M1 6H29", class_="off"), "", f"motor-off, {percent(chart.off)}"))
    rows += [
        (tag("text", charts.mark_letter(n), x=15, y=10, class_=f"mid letter {m.kind}"), "", m.note)
        for n, m in enumerate(chart.marks)
    ]
    rows += [("", "quiet", each) for each in chart.remarks]
    inside = [tag("text", text(chart.title), x=8, y=20, class_="title")]
    inside.append(tag("g", charts.chart_drawing(chart), transform="translate(0 26)"))
    y = HEIGHT + 40
    for before, kind, words in rows:
        inside.append(tag("g", before, transform=f"translate(8 {y - 10})") if before else "")
        for line in wrap(plain(words), WORDS):
            inside.append(tag("text", text(line), x=46, y=y, class_=kind))
            y += ROW
    return standalone_svg("".join(inside), chart.title, WIDTH, y + 2)


def map_picture(drawing: OverrideMap) -> str:
    """An override map with its title above it, and what its numbers mean below."""
    wide, top = max(drawing.wide, LEAST), 30
    inside = tag("text", text(drawing.title), x=12, y=21, class_="title")
    inside += tag("g", drawing.inside, transform=f"translate(0 {top})")
    inside += tag("text", text(NUMBERED), x=12, y=f"{top + drawing.tall + 12:.0f}", class_="quiet")
    return standalone_svg(inside, drawing.title, wide, top + drawing.tall + 24)


def standalone_svg(inside: str, title: str, width: float, height: float) -> str:
    """A whole SVG document: nothing outside it is needed, and none of it runs."""
    ground = tag("rect", width="100%", height="100%", class_="ground")
    style = tag("style", asset("palette.css") + asset("drawing.css"))
    return charts.svg_element(
        style + ground + inside,
        title,
        width,
        height,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{width:.0f}",
        height=f"{height:.0f}",
    )
