"""Curves drawn as SVG, coloured by the page's style alone: what a stick does, mode by mode, in exact numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import chain

from setuplint.curves.flown import Flown
from setuplint.curves.shape import FULL, Shape
from setuplint.dataclass import dataclass
from setuplint.formats.numbers import decimal, signed
from setuplint.pages.html import tag, text
from setuplint.setup.smoothings import possible

WIDTH, HEIGHT = 480, 376
LEFT, RIGHT, TOP, BOTTOM = 46, 440, 26, 332
STEPS = 200
COLOURS = 6
MARKERS = ("circle", "square", "diamond", "up", "down")
BESIDE = ((0, -13), (0, 21), (13, -7), (-13, -7), (13, 17), (-13, 17), (22, 4), (-22, 4), (0, -26), (0, 34))
NEAR_X, NEAR_Y = 11, 12  # nearer than that, two letters, or a letter and a ring, overlap
Point = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class ChartMark:
    """Something to look at on a line, explained by a note under the drawing. `kind`: `dip`, where the output turns back;
    `overshoot`, where smoothing goes beyond the points; `valley`, the bottom of an intended V."""

    kind: str
    places: tuple[Point, ...]  # stick, output
    note: str
    level: Fraction | None = None  # of an overshoot: the output of the point that it goes beyond
    along: tuple[Point, ...] = ()  # of a dip: the way from the one place to the other


@dataclass(frozen=True, slots=True)
class ChartLine:
    """What one mode does with a stick: the output along its travel, the points of its curve as they come out, and where it
    hovers, with the slope there. `others` are the alternatives where the smoothing is not known."""

    name: str
    flown: Flown
    points: tuple[Point, ...] = ()
    hover: tuple[Fraction, Fraction, Fraction] | None = None  # stick, output, slope
    marks: tuple[ChartMark, ...] = ()
    others: tuple[Flown, ...] = ()
    curve: str = ""


@dataclass(frozen=True, slots=True)
class Chart:
    """The lines of one channel over one stick. `straight` is what it would do without curves, `off` a motor's stop."""

    title: str
    stick: str
    lines: tuple[ChartLine, ...]
    straight: tuple[Point, ...] = ((-FULL, -FULL), (FULL, FULL))
    motor: bool = False
    off: Fraction | None = None
    remarks: tuple[str, ...] = ()

    @property
    def marks(self) -> list[ChartMark]:
        return [mark for line in self.lines for mark in line.marks]


class ChartFrame:
    """From percent to places in the drawing."""

    def __init__(self, least: Fraction, most: Fraction) -> None:
        self.least, self.most = least, most

    def x(self, at: Fraction) -> str:
        return f"{LEFT + float(at + 100) / 200 * (RIGHT - LEFT):.1f}"

    def y(self, output: Fraction) -> str:
        return f"{BOTTOM - float((output - self.least) / (self.most - self.least)) * (BOTTOM - TOP):.1f}"

    def path(self, points: Sequence[Point]) -> str:
        return "M" + "L".join(f"{self.x(at)} {self.y(output)}" for at, output in points)


def chart_drawing(chart: Chart) -> str:
    """What goes into the SVG, WIDTH by HEIGHT."""
    drawn = [_sampled_points(line.flown) for line in chart.lines]
    others = [[_sampled_points(each) for each in line.others] for line in chart.lines]
    values = [output for points in (*drawn, *chain.from_iterable(others)) for _, output in points]
    frame = ChartFrame(min([-FULL, *values]), max([FULL, *values]))
    inside = [*_grid_lines(frame, chart), tag("path", d=frame.path(chart.straight), class_="straight")]
    if chart.off is not None:
        inside.append(tag("path", d=frame.path([(-FULL, chart.off), (FULL, chart.off)]), class_="off"))
    for number, line in enumerate(chart.lines):
        inside += _line_drawing(frame, line, number, drawn[number], others[number])
    for number, line in enumerate(chart.lines):
        inside += _hover_marks(frame, line, number % COLOURS)
    inside += _mark_rings(frame, chart)
    return "".join(inside)


def _sampled_points(flown: Flown) -> list[Point]:
    """Points evenly over the travel, and wherever the curve bends."""
    even = {Fraction(-100) + Fraction(200 * n, STEPS) for n in range(STEPS + 1)}
    bends = flown.shape.bends(-FULL, FULL)
    places = even | set(flown.shape.places(bends, -FULL, FULL, range(len(bends))))
    return [(at, flown.output(at)) for at in sorted(places)]


def _grid_lines(frame: ChartFrame, chart: Chart) -> Iterator[str]:
    for at in map(Fraction, (-100, -50, 0, 50, 100)):
        kind = "axis" if at == 0 else "grid"
        yield tag("line", x1=frame.x(at), y1=TOP, x2=frame.x(at), y2=BOTTOM, class_=kind)
        yield tag("text", signed(at), x=frame.x(at), y=BOTTOM + 17, class_="mid quiet")
    for output in map(Fraction, range(-150, 151, 50)):
        if not frame.least <= output <= frame.most:
            continue
        kind = "axis" if output == 0 else "grid"
        yield tag("line", x1=LEFT, y1=frame.y(output), x2=RIGHT, y2=frame.y(output), class_=kind)
        yield tag("text", signed(output), x=LEFT - 6, y=f"{float(frame.y(output)) + 4:.1f}", class_="end quiet")
        if chart.motor:
            shown = decimal((output + 100) / 2)
            yield tag("text", shown, x=RIGHT + 6, y=f"{float(frame.y(output)) + 4:.1f}", class_="quiet")
    yield tag("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=BOTTOM - TOP, class_="frame")
    yield tag("text", "output, %", x=6, y=14)
    yield tag("text", f"{text(chart.stick)}, %", x=RIGHT, y=BOTTOM + 36, class_="end")
    if chart.motor:
        yield tag("text", "of 100", x=WIDTH - 4, y=14, class_="end")


def _line_drawing(
    frame: ChartFrame, line: ChartLine, number: int, drawn: list[Point], others: list[list[Point]]
) -> Iterator[str]:
    colour = number % COLOURS
    for mark in line.marks:
        if mark.along:
            yield tag("path", d=frame.path(mark.along), class_="turning")
    if line.points:
        yield tag("path", d=frame.path(line.points), class_=f"joined s{colour}")
    for points in others:
        yield tag("path", d=frame.path(points), class_=f"other s{colour}")
    yield tag("path", d=frame.path(drawn), class_=f"curve s{colour}")
    for at, output in line.points:
        yield marker(number, float(frame.x(at)), float(frame.y(output)))


def marker(number: int, x: float, y: float) -> str:
    """A point of a line: each line has a shape of its own as well as a colour."""
    colour, kind = f"f{number % COLOURS}", MARKERS[number % len(MARKERS)]
    if kind == "circle":
        return tag("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r="3.4", class_=colour)
    shapes = {
        "square": "m-3.2-3.2h6.4v6.4h-6.4z",
        "diamond": "m0-4.6l4.6 4.6l-4.6 4.6l-4.6-4.6z",
        "up": "m0-4.4l4.2 7.4h-8.4z",
        "down": "m0 4.4l4.2-7.4h-8.4z",
    }
    return tag("path", d=f"M{x:.1f} {y:.1f}{shapes[kind]}", class_=colour)


def legend_key(number: int) -> str:
    """The line and the point marker of a number for a legend, 30 by 12."""
    colour = number % COLOURS
    return tag("path", d="M1 6H29", class_=f"curve s{colour}") + marker(number, 15, 6)


def _hover_marks(frame: ChartFrame, line: ChartLine, colour: int) -> Iterator[str]:
    """A ring where it hovers, and the slope there as a short straight line."""
    if line.hover is None:
        return
    at, output, slope = line.hover
    reach = Fraction(22)
    low, high = max(at - reach, -FULL), min(at + reach, FULL)
    if slope:
        ends = sorted((at + (level - output) / slope) for level in (frame.least, frame.most))
        low, high = max(low, ends[0]), min(high, ends[1])
    ends_ = [(low, output + slope * (low - at)), (high, output + slope * (high - at))]
    yield tag("path", d=frame.path(ends_), class_=f"curve tangent s{colour}")
    yield tag("circle", cx=frame.x(at), cy=frame.y(output), r="5.5", class_=f"hover s{colour}")


def _mark_rings(frame: ChartFrame, chart: Chart) -> Iterator[str]:
    """A ring at every place of a mark, and beside its last place the letter of its note, clear of all others."""
    taken = [(float(frame.x(h[0])), float(frame.y(h[1]))) for line in chart.lines if (h := line.hover) is not None]
    taken += [(float(frame.x(x)), float(frame.y(y))) for mark in chart.marks for x, y in mark.places]
    for number, mark in enumerate(chart.marks):
        for at, output in mark.places:
            yield tag("circle", cx=frame.x(at), cy=frame.y(output), r="7", class_=f"turn {mark.kind}")
        at, output = mark.places[-1]
        if mark.level is not None:
            yield tag("path", d=frame.path([(at, mark.level), (at, output)]), class_=f"turn {mark.kind}")
        x, y = _free_place(float(frame.x(at)), float(frame.y(output)), taken)
        taken.append((x, y - 4))
        yield tag("text", mark_letter(number), x=f"{x:.1f}", y=f"{y:.1f}", class_=f"mid letter {mark.kind}")


def _free_place(x: float, y: float, taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """A place for a letter beside a ring, inside the frame, that covers nothing."""
    places = [(x + dx, y + dy) for dx, dy in BESIDE]
    inside = [(px, py) for px, py in places if LEFT + 6 < px < RIGHT - 6 and TOP + 12 < py < BOTTOM - 2]
    free = [
        (px, py)
        for px, py in inside
        if not any(abs(px - tx) < NEAR_X and abs(py - 4 - ty) < NEAR_Y for tx, ty in taken)
    ]
    return (free or inside or places)[0]


def mark_letter(number: int) -> str:
    """A to Z, then A2 and so on."""
    turn, place = divmod(number, 26)
    return chr(ord("A") + place) + (str(turn + 1) if turn else "")


def shape_of(points: Sequence[Point], smoothing: str) -> Shape:
    """A curve's own shape with the stick unscaled; of an unknown smoothing the first that it may be."""
    return Shape.of(points, possible(smoothing)[0], FULL, Fraction(0))


def chart_figure(chart: Chart) -> str:
    """The drawing as part of a page."""
    return svg_element(chart_drawing(chart), chart.title, WIDTH, HEIGHT)


def svg_element(inside: str, title: str, wide: float, tall: float, **more: object) -> str:
    """An SVG that scales with the page, under one name."""
    return tag(
        "svg",
        tag("title", text(title)) + inside,
        viewBox=f"0 0 {wide:.0f} {tall:.0f}",
        role="img",
        aria_label=title,
        **more,
    )
