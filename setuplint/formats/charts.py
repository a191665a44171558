"""Drawings of curves and of the battery as SVG, coloured by the page's style alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from setuplint.decide.bends import turns_against
from setuplint.decide.curves import FULL, Shape
from setuplint.decide.flown import Flown
from setuplint.formats.html import tag, text
from setuplint.formats.numbers import decimal, signed

WIDTH, HEIGHT = 460, 340
LEFT, RIGHT, TOP, BOTTOM = 48, 446, 14, 300
STEPS = 200
COLOURS = 6
Point = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Line:
    """What one mode does with a stick: the output along its travel, the curve's own points as they come out, and where it
    hovers, with the slope there."""

    name: str
    flown: Flown
    points: tuple[Point, ...] = ()
    hover: tuple[Fraction, Fraction, Fraction] | None = None  # stick, output, slope


class Frame:
    """Where percent come to stand."""

    def __init__(self, least: Fraction, most: Fraction) -> None:
        self.least, self.most = least, most

    def x(self, at: Fraction) -> str:
        return f"{LEFT + float(at + 100) / 200 * (RIGHT - LEFT):.1f}"

    def y(self, output: Fraction) -> str:
        return f"{BOTTOM - float((output - self.least) / (self.most - self.least)) * (BOTTOM - TOP):.1f}"

    def path(self, points: Sequence[Point]) -> str:
        return "M" + "L".join(f"{self.x(at)} {self.y(output)}" for at, output in points)


def curves(title: str, stick: str, lines: Sequence[Line]) -> str:
    """The lines of one channel, each in the colour of its mode."""
    drawn = [[(at, line.flown.output(at)) for at in _places(line.flown)] for line in lines]
    values = [output for points in drawn for _, output in points]
    frame = Frame(min([-FULL, *values]), max([FULL, *values]))
    inside = [*_grid(frame, stick), tag("path", d=frame.path([(-FULL, -FULL), (FULL, FULL)]), class_="straight")]
    for number, (line, points) in enumerate(zip(lines, drawn, strict=True)):
        colour = number % COLOURS
        if line.points:
            inside.append(tag("path", d=frame.path(line.points), class_=f"joined s{colour}"))
        inside.append(tag("path", d=frame.path(points), class_=f"curve s{colour}"))
        for at, output in line.points:
            inside.append(tag("circle", cx=frame.x(at), cy=frame.y(output), r="3", class_=f"f{colour}"))
    for number, line in enumerate(lines):
        inside += _hover(frame, line, number % COLOURS)
        inside += _turns(frame, line)
    return tag(
        "svg",
        tag("title", text(title)) + "".join(inside),
        viewBox=f"0 0 {WIDTH} {HEIGHT}",
        role="img",
        aria_label=title,
    )


def _places(flown: Flown) -> list[Fraction]:
    """Evenly over the travel, and wherever the curve bends."""
    even = {Fraction(-100) + Fraction(200 * n, STEPS) for n in range(STEPS + 1)}
    bends = flown.shape.bends(-FULL, FULL)
    return sorted(even | set(flown.shape.places(bends, -FULL, FULL, range(len(bends)))))


def _grid(frame: Frame, stick: str) -> Iterator[str]:
    for at in (Fraction(-100), Fraction(-50), Fraction(0), Fraction(50), Fraction(100)):
        kind = "axis" if at == 0 else "grid"
        yield tag("line", x1=frame.x(at), y1=TOP, x2=frame.x(at), y2=BOTTOM, class_=kind)
        yield tag("line", x1=LEFT, y1=frame.y(at), x2=RIGHT, y2=frame.y(at), class_=kind)
        yield tag("text", signed(at), x=frame.x(at), y=BOTTOM + 16, class_="mid quiet")
        yield tag("text", signed(at), x=LEFT - 6, y=float(frame.y(at)) + 4, class_="end quiet")
    yield tag("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=BOTTOM - TOP, class_="frame")
    yield tag("text", f"{text(stick)}, %", x=RIGHT, y=BOTTOM + 33, class_="end")


def _hover(frame: Frame, line: Line, colour: int) -> Iterator[str]:
    if line.hover is None:
        return
    at, output, slope = line.hover
    reach = Fraction(22)
    ends = [(at - reach, output - slope * reach), (at + reach, output + slope * reach)]
    yield tag("path", d=frame.path(ends), class_=f"curve tangent s{colour}")
    yield tag("circle", cx=frame.x(at), cy=frame.y(output), r="5.5", class_=f"hover s{colour}")


def _turns(frame: Frame, line: Line) -> Iterator[str]:
    """A ring where the output turns against the direction of its ends."""
    turn = turns_against(line.flown.shape)
    if turn.amount <= Fraction(1, 100):
        return
    for at in (turn.x_from, turn.x_to):
        output = line.flown.output(at)
        yield tag("circle", cx=frame.x(at), cy=frame.y(output), r="7", class_="turn")
    at, output = turn.x_to, line.flown.output(turn.x_to)
    yield tag(
        "text", f"turns back by {decimal(turn.amount, 1)}", x=float(frame.x(at)) + 10, y=float(frame.y(output)) - 10
    )


def shape_of(points: Sequence[Point], smoothing: str) -> Shape:
    """A curve's own shape, the stick unscaled; unknown smoothing is shown as monotone."""
    return Shape.of(points, "monotone" if smoothing == "unknown" else smoothing, FULL, Fraction(0))


@dataclass(frozen=True, slots=True)
class Mark:
    """Volts a cell at which something is; `sag` widens it to the resting voltage that loads to it."""

    name: str
    volts: Fraction
    sag: Fraction = Fraction(0)
    floor: bool = False


def battery(title: str, full: Fraction, marks: Sequence[Mark]) -> str:
    """Volts a cell from below the lowest mark to full: floor, alarms, and the band of rest voltages from which they sag."""
    lowest = min(mark.volts for mark in marks) - Fraction(1, 5)
    highest = max([full, *(mark.volts + mark.sag for mark in marks)]) + Fraction(1, 20)
    height = 60 + 26 * len(marks)

    def x(volts: Fraction) -> float:
        return 20 + float((volts - lowest) / (highest - lowest)) * (WIDTH - 40)

    inside = [tag("line", x1=20, y1=height - 30, x2=WIDTH - 20, y2=height - 30, class_="axis")]
    tenth = Fraction(1, 10)
    tick = -(-lowest // tenth) * tenth
    while tick <= highest:
        inside.append(
            tag("line", x1=f"{x(tick):.1f}", y1=height - 34, x2=f"{x(tick):.1f}", y2=height - 26, class_="axis")
        )
        if tick * 10 % 2 == 0:
            inside.append(tag("text", decimal(tick, 1), x=f"{x(tick):.1f}", y=height - 12, class_="mid quiet"))
        tick += tenth
    for number, mark in enumerate(marks):
        y = 24 + 26 * number
        if mark.sag:
            wide = x(mark.volts + mark.sag) - x(mark.volts)
            inside.append(
                tag("rect", x=f"{x(mark.volts):.1f}", y=y - 12, width=f"{wide:.1f}", height=16, class_="band")
            )
        kind = "floor" if mark.floor else "alarm"
        inside.append(
            tag("line", x1=f"{x(mark.volts):.1f}", y1=y - 14, x2=f"{x(mark.volts):.1f}", y2=height - 30, class_=kind)
        )
        right = x(mark.volts) < WIDTH * 0.6
        at = x(mark.volts + mark.sag) + 6 if right else x(mark.volts) - 6
        said = f"{mark.name} {decimal(mark.volts, 3)} V"
        inside.append(tag("text", text(said), x=f"{at:.1f}", y=y, class_="" if right else "end"))
    inside.append(tag("text", f"volts a cell; full {decimal(full)}", x=WIDTH - 20, y=14, class_="end quiet small"))
    return tag(
        "svg",
        tag("title", text(title)) + "".join(inside),
        viewBox=f"0 0 {WIDTH} {height}",
        role="img",
        aria_label=title,
    )
