"""The battery of a report: volts a cell, with the floor, every alarm, and from where a loaded cell sags to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from itertools import islice

from setuplint.book.rule_file import Rule
from setuplint.checks.listening import thresholds
from setuplint.dataclass import dataclass
from setuplint.formats.document import Bullets
from setuplint.formats.numbers import decimal
from setuplint.formats.terminal import plain
from setuplint.pages.charts import svg_element
from setuplint.pages.document_html import document_html
from setuplint.pages.html import scrollable, tag, text
from setuplint.setup.model import Battery, Setup
from setuplint.setup.packs import with_packs

FLOORS, FULLS = "voltage-alarm-below-floor", "cell-count-mismatch"
TITLE = "Volts a cell: floor, alarms and sag"
WIDTH, LEFT, RIGHT, TOP, ROW = 640, 170, 620, 34, 30
MOST_DRAWN = 100  # packs
LONGEST = 22  # characters of an alarm's name
TENTH = Fraction(1, 10)
X = Callable[[Fraction], float]


@dataclass(frozen=True, slots=True)
class Sag:
    """Volts that a current takes from a loaded cell."""

    current: Fraction
    volts: Fraction


@dataclass(frozen=True, slots=True)
class Pack:
    """What is drawn. `alarms` have the volts a cell at which they may sound; those in `unplaced` watch a pack of unknown cells.
    `sags` are at hover and peak current, the lower first."""

    floor: Fraction | None
    full: Fraction | None
    alarms: tuple[tuple[str, Fraction], ...]
    unplaced: tuple[str, ...]
    sags: tuple[Sag, ...]
    cells: int | None


def battery_figure(setup: Setup, rules: Mapping[str, Rule]) -> str:
    """The drawing with its remarks; empty where nothing is known of the battery."""
    pack = pack_of(setup, rules)
    if not pack.alarms and pack.floor is None:
        return ""
    remarks = document_html([Bullets(list(battery_remarks(setup.battery, pack)))])
    return tag("figure", scrollable(battery_drawing(pack), TITLE) + tag("figcaption", remarks), class_="battery")


def battery_figures(setup: Setup, rules: Mapping[str, Rule]) -> str:
    """The drawings of all packs, those of others under their names."""
    others = ((name, battery_figure(each, rules)) for name, each in islice(with_packs(setup), MOST_DRAWN))
    first = battery_figure(setup, rules)
    drawn = first + "".join(tag("h3", text(f"Pack {name}")) + figure for name, figure in others if figure)
    left = len(setup.packs) - MOST_DRAWN
    return (
        drawn if left <= 0 else drawn + tag("p", f"To keep this page quick {left} packs are not drawn.", class_="soft")
    )


def pack_of(setup: Setup, rules: Mapping[str, Rule]) -> Pack:
    own = setup.battery
    floor = full = None
    if own.chemistry is not None:
        floor = rules[FLOORS].limits[f"floor-{own.chemistry}"].value
        full = rules[FULLS].limits[f"full-{own.chemistry}"].value
    found: dict[tuple[str, Fraction], None] = {}
    unplaced: dict[str, None] = {}
    for alarm in setup.alarms.values():
        for threshold in thresholds(setup, alarm):
            if threshold.cell is None:
                unplaced[alarm.name] = None
            else:
                found[alarm.name, threshold.cell] = None
    return Pack(floor, full, tuple(found), tuple(unplaced), tuple(_sags(own)), own.cells)


def _sags(own: Battery) -> Iterator[Sag]:
    if own.resistance_mohm is None or not own.cells:
        return
    for current in sorted({c for c in (own.hover_current_a, own.peak_current_a) if c is not None}):
        yield Sag(current, current * own.resistance_mohm / own.cells / 1000)


def battery_remarks(own: Battery, pack: Pack) -> Iterator[str]:
    """What is drawn and what is not, in words."""
    if pack.floor is None:
        yield "No floor is drawn: [battery] chemistry is not given."
    if pack.sags:
        named = [f"about {decimal(sag.volts)} V a cell at {decimal(sag.current)} A" for sag in pack.sags]
        if len(named) > 1:
            named[1] = f"dashed up to {named[1]}"
        resistance = decimal(own.resistance_mohm or 0)
        yield (
            f"Shaded, the expected sag, {', '.join(named)}: where a cell stands at rest that the load pulls down to the alarm. "
            f"Worked out from resistance-mohm, {resistance} for the pack, measured warm: a cold or an old pack sags more."
        )
    elif pack.alarms:
        yield "No sag is drawn: that takes cells, resistance-mohm, and hover-current-a or peak-current-a in [battery]."
    if pack.unplaced:
        yield f"Not drawn: {', '.join(pack.unplaced)}, at volts of a pack whose cells are not given."


def battery_drawing(pack: Pack) -> str:
    marks = [volts for _, volts in pack.alarms] + [v for v in (pack.floor, pack.full) if v is not None]
    most = pack.sags[-1].volts if pack.sags else Fraction(0)
    low = _tenth_below(min(marks) - TENTH)
    high = -_tenth_below(-max([*marks, *(volts + most for _, volts in pack.alarms)]) - TENTH / 2)
    bottom = TOP + ROW * max(len(pack.alarms), 1)

    def x(volts: Fraction) -> float:
        return LEFT + float((volts - low) / (high - low)) * (RIGHT - LEFT)

    inside: list[str] = []
    if pack.floor is not None:
        inside.append(_rect(LEFT, x(pack.floor), TOP, bottom, "ruin"))
    inside += _volt_scale(low, high, bottom, x, pack.cells)
    for n, (name, volts) in enumerate(pack.alarms):
        inside += _alarm_row(name, volts, pack, TOP + ROW * n, x)
    for name, level in (("floor", pack.floor), ("full", pack.full)):
        if level is not None:
            at = f"{x(level):.1f}"
            inside.append(tag("line", x1=at, y1=TOP - 4, x2=at, y2=bottom, class_=name))
            inside.append(tag("text", f"{name} {decimal(level)} V", x=at, y=TOP - 12, class_="mid"))
    return svg_element("".join(inside), TITLE, WIDTH, bottom + (52 if pack.cells else 30), width=WIDTH)


def _tenth_below(volts: Fraction) -> Fraction:
    return volts // TENTH * TENTH


def _rect(x1: float, x2: float, y1: float, y2: float, kind: str) -> str:
    return tag("rect", x=f"{x1:.1f}", y=f"{y1:.1f}", width=f"{x2 - x1:.1f}", height=f"{y2 - y1:.1f}", class_=kind)


def _volt_scale(low: Fraction, high: Fraction, bottom: float, x: X, cells: int | None) -> Iterator[str]:
    """Volts a cell, and under them those of the whole pack."""
    yield tag("line", x1=LEFT, y1=bottom, x2=RIGHT, y2=bottom, class_="axis")
    yield tag("text", "volts a cell", x=8, y=bottom + 18, class_="quiet")
    if cells:
        yield tag("text", f"{cells} cells together", x=8, y=bottom + 38, class_="quiet")
    step = next(TENTH * n for n in (1, 2, 5, 10, 50, 200) if (high - low) / (TENTH * n) <= 11)
    tick = -(-low // step) * step
    while tick <= high:
        at = f"{x(tick):.1f}"
        yield tag("line", x1=at, y1=bottom, x2=at, y2=bottom + 5, class_="axis")
        yield tag("text", decimal(tick, 1), x=at, y=bottom + 18, class_="mid quiet")
        if cells:
            yield tag("text", decimal(tick * cells, 1), x=at, y=bottom + 38, class_="mid quiet")
        tick += step


def _alarm_row(name: str, volts: Fraction, pack: Pack, top: float, x: X) -> Iterator[str]:
    """One row: the threshold, and the resting volts from which a loaded cell sags to it."""
    shown = plain(name)
    yield tag("text", text(shown if len(shown) <= LONGEST else f"{shown[: LONGEST - 1]}…"), x=8, y=top + 20)
    before = volts
    for number, sag in enumerate(pack.sags):
        yield _rect(x(before), x(volts + sag.volts), top + 6, top + ROW - 6, f"band b{number}")
        before = volts + sag.volts
    at = f"{x(volts):.1f}"
    yield tag("line", x1=at, y1=top + 2, x2=at, y2=top + ROW - 2, class_="alarm")
    said = f"{decimal(volts, 3)} V" + (f", {decimal(volts * pack.cells)} V" if pack.cells else "")
    wide = 7 * len(said)
    lines = [x(level) for level in (pack.floor, pack.full) if level is not None]
    starts = (x(before) + 6, x(volts) - 6 - wide)
    right = _is_free(starts[0], wide, lines) or not _is_free(starts[1], wide, lines)
    where, look = (starts[0], "beside") if right else (x(volts) - 6, "beside end")
    yield tag("text", said, x=f"{where:.1f}", y=top + 20, class_=look)


def _is_free(start: float, wide: float, lines: list[float]) -> bool:
    """Whether words that begin at `start` cross no line and stay in the drawing."""
    return start > LEFT and start + wide < WIDTH and not any(start - 2 < at < start + wide + 2 for at in lines)
