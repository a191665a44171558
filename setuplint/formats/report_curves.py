"""The curves of a report: each drawing with its legend, what is marked in it, and its points as numbers."""

from __future__ import annotations

from setuplint.formats import charts
from setuplint.formats.charts import Chart, Line
from setuplint.formats.curve_charts import channel_charts
from setuplint.formats.html import tag, text
from setuplint.formats.numbers import decimal, percent, signed
from setuplint.setup.model import Setup


def curves(setup: Setup) -> str:
    placed: set[str] = set()
    figures = []
    for chart, names in channel_charts(setup):
        figures.append(_figure(setup, chart, names, [name for name in names if name not in placed]))
        placed.update(names)
    return tag("div", "\n".join(figures), class_="charts") if figures else ""


def place_of(curve: str) -> str:
    """The id of the place that a link to a curve leads to."""
    return f"curve-{curve}"


def _figure(setup: Setup, chart: Chart, names: tuple[str, ...], first: list[str]) -> str:
    """`first` are the curves that stand in no figure before: links to them lead here."""
    anchors = "".join(tag("span", "", id=place_of(name)) for name in first)
    points = "".join(tag("dt", text(name)) + tag("dd", _points(setup, name)) for name in names)
    caption = tag("strong", text(chart.title)) + legend(chart) + tag("dl", points, class_="points soft")
    drawn = charts.figure(chart)
    return tag("figure", anchors + drawn + tag("figcaption", caption))


def legend(chart: Chart) -> str:
    """What each line, ring and letter of a drawing is."""
    keys = [_key(charts.key(n)) + text(said(line)) for n, line in enumerate(chart.lines)]
    keys.append(_key(tag("path", d="M1 6H29", class_="straight")) + "straight, for comparison")
    if chart.off is not None:
        keys.append(_key(tag("path", d="M1 6H29", class_="off")) + text(f"motor-off, {percent(chart.off)}"))
    marks = [
        tag("b", charts.letter(n), class_=mark.kind) + " " + text(mark.note)
        for n, mark in enumerate(mark for line in chart.lines for mark in line.marks)
    ]
    listed = "".join(tag("li", each) for each in (*keys, *marks))
    return tag("ul", listed, class_="legend") + tag("p", text("; ".join(chart.said)), class_="soft")


def said(line: Line) -> str:
    """A line's name, and where the craft hovers on it."""
    hovers = ""
    if line.hover is not None:
        at, output, slope = line.hover
        hovers = f"hovers at {percent(output)}, the stick at {percent(round(at, 2))}; slope there {decimal(slope)}"
    return ": ".join(filter(None, (line.name or ("" if hovers else "output"), hovers)))


def _key(inside: str) -> str:
    return tag("svg", inside, viewBox="0 0 30 12", class_="key", aria_hidden="true")


def _points(setup: Setup, name: str) -> str:
    """`-100 gives -100`, for each point."""
    return text(", ".join(f"{signed(x)} gives {signed(y)}" for x, y in setup.curves[name].points))
