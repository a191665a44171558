"""The curves of a report: each drawing with its legend, what is marked in it, and its points as numbers."""

from __future__ import annotations

from itertools import islice

from setuplint.formats.document import Grid, Phrase, Words
from setuplint.formats.numbers import decimal, percent, signed
from setuplint.pages import charts
from setuplint.pages.charts import Chart, ChartLine
from setuplint.pages.curve_charts import MOST_DRAWN, channel_charts, smoothing_words
from setuplint.pages.document_html import document_html
from setuplint.pages.html import tag, text
from setuplint.setup.model import Curve, Setup


def curves_section(setup: Setup) -> str:
    placed: set[str] = set()
    figures = []
    drawings = channel_charts(setup)
    for chart, names in islice(drawings, MOST_DRAWN):
        figures.append(_curve_figure(chart, [name for name in names if name not in placed]))
        placed.update(names)
    if not figures:
        return ""
    if len(figures) == MOST_DRAWN and (left := [name for name in setup.curves if name not in placed]):
        anchors = "".join(tag("span", "", id=curve_anchor(name)) for name in left)
        note = f"The first {MOST_DRAWN} drawings, to keep this page quick; the table has every curve."
        figures.append(tag("p", anchors + note, class_="soft"))
    rows: list[list[Words]] = [[each.name, smoothing_words(each), _point_words(each)] for each in setup.curves.values()]
    grid = Grid(("Curve", "Smoothing", "Points: what the stick gives"), rows, "Points as entered, in percent")
    return tag("div", "\n".join(figures), class_="charts") + document_html([grid])


def curve_anchor(curve: str) -> str:
    """The id of the place that a link to a curve leads to."""
    return f"curve-{curve}"


def _curve_figure(chart: Chart, first: list[str]) -> str:
    """`first` are the curves that no earlier figure has: links to them lead here."""
    anchors = "".join(tag("span", "", id=curve_anchor(name)) for name in first)
    caption = tag("figcaption", tag("strong", text(chart.title)) + _legend(chart))
    return tag("figure", anchors + charts.chart_figure(chart) + caption)


def _legend(chart: Chart) -> str:
    """What each line, ring and letter of a drawing is."""
    keys = [_key_svg(charts.legend_key(n)) + text(line_words(line)) for n, line in enumerate(chart.lines)]
    keys.append(_key_svg(tag("path", d="M1 6H29", class_="straight")) + "straight, for comparison")
    if chart.off is not None:
        keys.append(_key_svg(tag("path", d="M1 6H29", class_="off")) + text(f"motor-off, {percent(chart.off)}"))
    for n, mark in enumerate(chart.marks):
        keys.append(tag("b", charts.mark_letter(n), class_=mark.kind) + " " + text(mark.note))
    remarks = tag("p", text("; ".join(chart.remarks)), class_="soft") if chart.remarks else ""
    return tag("ul", "".join(tag("li", key) for key in keys), class_="legend") + remarks


def line_words(line: ChartLine) -> str:
    """A line's name, and where the craft hovers on it."""
    hovers = ""
    if line.hover is not None:
        at, output, slope = line.hover
        hovers = f"hovers at {percent(output)}, the stick at {percent(round(at, 2))}; slope there {decimal(slope)}"
    name = f"{line.name} ({line.curve})" if line.name and line.curve else line.name or line.curve
    return ": ".join(filter(None, (name or ("" if hovers else "output"), hovers)))


def _key_svg(inside: str) -> str:
    return tag("svg", inside, viewBox="0 0 30 12", class_="key", aria_hidden="true")


def _point_words(curve: Curve) -> Words:
    """`-100 → -100` for each point, none of them broken."""
    points = [Phrase(f"{signed(x)} → {signed(y)}", "whole") for x, y in curve.points]
    return [each for point in points for each in (", ", point)][1:]
