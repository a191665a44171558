"""The curves of a report: each drawing with its legend, what is marked in it, and its points as numbers."""

from __future__ import annotations

from setuplint.formats.numbers import decimal, percent, signed
from setuplint.pages import charts
from setuplint.pages.charts import Chart, ChartLine
from setuplint.pages.curve_charts import channel_charts, smoothing_words
from setuplint.pages.html import html_table, tag, text
from setuplint.setup.model import Curve, Setup


def curves_section(setup: Setup) -> str:
    placed: set[str] = set()
    figures = []
    for chart, names in channel_charts(setup):
        figures.append(_curve_figure(chart, [name for name in names if name not in placed]))
        placed.update(names)
    if not figures:
        return ""
    rows = [[text(each.name), text(smoothing_words(each)), _points_html(each)] for each in setup.curves.values()]
    listed = html_table(["Curve", "Smoothing", "Points: what the stick gives"], rows, "Points as entered, in percent")
    return tag("div", "\n".join(figures), class_="charts") + listed


def curve_anchor(curve: str) -> str:
    """The id of the place that a link to a curve leads to."""
    return f"curve-{curve}"


def _curve_figure(chart: Chart, first: list[str]) -> str:
    """`first` are the curves that stand in no figure before: links to them lead here."""
    anchors = "".join(tag("span", "", id=curve_anchor(name)) for name in first)
    caption = tag("strong", text(chart.title)) + chart_legend(chart)
    drawn = charts.chart_figure(chart)
    return tag("figure", anchors + drawn + tag("figcaption", caption))


def chart_legend(chart: Chart) -> str:
    """What each line, ring and letter of a drawing is."""
    keys = [_key_svg(charts.legend_key(n)) + text(line_words(line)) for n, line in enumerate(chart.lines)]
    keys.append(_key_svg(tag("path", d="M1 6H29", class_="straight")) + "straight, for comparison")
    if chart.off is not None:
        keys.append(_key_svg(tag("path", d="M1 6H29", class_="off")) + text(f"motor-off, {percent(chart.off)}"))
    marks = [
        tag("b", charts.mark_letter(n), class_=mark.kind) + " " + text(mark.note)
        for n, mark in enumerate(mark for line in chart.lines for mark in line.marks)
    ]
    listed = "".join(tag("li", each) for each in (*keys, *marks))
    return tag("ul", listed, class_="legend") + (
        tag("p", text("; ".join(chart.said)), class_="soft") if chart.said else ""
    )


def line_words(line: ChartLine) -> str:
    """A line's name, and where the craft hovers on it."""
    hovers = ""
    if line.hover is not None:
        at, output, slope = line.hover
        hovers = f"hovers at {percent(output)}, the stick at {percent(round(at, 2))}; slope there {decimal(slope)}"
    return ": ".join(filter(None, (line_name(line) or ("" if hovers else "output"), hovers)))


def line_name(line: ChartLine) -> str:
    """The modes and the curve."""
    return " ".join(filter(None, (line.name, line.curve and f"({line.curve})")))


def _key_svg(inside: str) -> str:
    return tag("svg", inside, viewBox="0 0 30 12", class_="key", aria_hidden="true")


def _points_html(curve: Curve) -> str:
    """`-100 → -100`, for each point, none of them broken."""
    return ", ".join(tag("span", text(f"{signed(x)} → {signed(y)}"), class_="whole") for x, y in curve.points)
