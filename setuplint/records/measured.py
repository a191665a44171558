"""The measured numbers of a record put into the text of its setup, and the curves that rest on them softened again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

from setuplint.book.record_file import BenchRecord, exact_number
from setuplint.curves.bends import slope_range
from setuplint.curves.cubics import curve
from setuplint.curves.soften import FULL, HALF, softened
from setuplint.dataclass import dataclass
from setuplint.findings import Edit
from setuplint.formats.numbers import decimal, percent
from setuplint.formats.patch import edited_text
from setuplint.pages.softening import NEAR, HoverPoint, hover_points, points_text
from setuplint.records.checked import percent_of
from setuplint.setup.model import Curve, Setup
from setuplint.source import Document

OUTPUTS = ("motor-off", "rotor-free", "hover-throttle", "hover-collective", "governed-above")  # on the record's scale
SOFT = (-FULL, -HALF, Fraction(0), HALF, FULL)  # where the points of a softened curve are
NEAR_OUTPUT = Fraction(1)  # percent: an output so close is the same
ROUNDED = Fraction(1, 50)  # percent: points are written with two decimals


class MeasureError(ValueError):
    """Why measured numbers cannot be put into a file, in one line."""


@dataclass(frozen=True, slots=True)
class MeasuredNumber:
    """A number of a record: its key, what the file says (None: nothing), and what was measured, in the key's unit."""

    key: str
    was: Fraction | None
    now: Fraction

    @property
    def doubt(self) -> str:
        """What speaks against an output: it is what the file says on the other scale. Empty where nothing does."""
        if self.was is None or self.key.split(".")[1] not in OUTPUTS or abs(self.now - self.was) <= NEAR_OUTPUT:
            return ""
        for words, other in (("from 0 to 100", (self.was + 100) / 2), ("from -100 to +100", self.was * 2 - 100)):
            if abs(self.now - other) <= NEAR_OUTPUT:
                read = f"{self.key} was recorded as {percent(self.now)}, and on the scale {words} that is what the file says"
                return f"{read}: {percent(self.was)}. Correct the record's scale, or its number"
        return ""

    @property
    def edit(self) -> Edit:
        return Edit(tuple(self.key.split(".")), decimal(self.now))


def measured_numbers(record: BenchRecord, setup: Setup) -> tuple[MeasuredNumber, ...]:
    """All of them, also those that the file has already."""
    found = []
    for key, value in record.measured.items():
        table, name = key.split(".")
        part: Any = setup.craft if table == "craft" else setup.battery
        scaled = percent_of(value, record.scale, setup.craft) if name in OUTPUTS else exact_number(value)
        found.append(MeasuredNumber(key, getattr(part, name.replace("-", "_")), round(scaled, 2)))
    return tuple(found)


def with_numbers(
    document: Document,
    setup: Setup,
    numbers: tuple[MeasuredNumber, ...],
    load: Callable[[str], tuple[Document, Setup, str]],
) -> tuple[str, list[str]]:
    """The text with the numbers in it, and what became of the curves that rest on them. `load` reads a text: its document, its
    setup and what is wrong with it. MeasureError where the whole of it cannot be done."""
    text, notes = document.text, list[str]()
    for number in numbers:
        if words := number.doubt:
            raise MeasureError(words)
        if number.was != number.now:
            text = _edited(text, number.edit, load)
    new = load(text)[1]
    for edit, note in _curves(setup, new):
        notes.append(note)
        if edit is not None:
            text = _edited(text, edit, load)
    return text, notes


def _edited(text: str, edit: Edit, load: Callable[[str], tuple[Document, Setup, str]]) -> str:
    after = edited_text(load(text)[0], edit)
    where = ".".join(map(str, edit.path))
    if after is None:
        raise MeasureError(f"{where} does not fit into the text as it is written: write it there by hand")
    if wrong := load(after)[2]:
        raise MeasureError(f"{where} = {edit.value}: {wrong}")
    return after


def _curves(old: Setup, new: Setup) -> Iterator[tuple[Edit | None, str]]:
    """The curves that were soft at the hover as the file had it, soft at the hover that was measured."""
    for name, made in old.curves.items():
        before, after = set(hover_points(old, name)), set(hover_points(new, name))
        if {each.output for each in before} == {each.output for each in after} or not _is_soft_at(made, before):
            continue
        if not after:
            yield None, f"curve {name} was left as it is: by the numbers that are there now no channel hovers on it"
            continue
        if len({each.demand for each in after}) != 1:
            yield None, f"curve {name} was left as it is: several channels hover on it, each elsewhere"
            continue
        demand = next(iter(after)).demand
        kind = "none" if made.smoothing == "unknown" else made.smoothing
        slope = slope_range(curve(made.points, kind), -NEAR, NEAR)[1][1]
        try:
            points = softened(demand, abs(slope), (made.points[0][1], made.points[-1][1]), made.smoothing)
        except ValueError as error:
            yield None, f"curve {name} was left as it is: {error}"
            continue
        given = points_text(points)
        yield Edit(("curves", name, "points"), given), f"curve {name} is soft around the new hover: {given}"


def _is_soft_at(made: Curve, hovers: set[HoverPoint]) -> bool:
    """Whether its five points are those of a curve softened around one of the hovers."""
    if tuple(x for x, _ in made.points) != SOFT:
        return False
    _, second, middle, fourth, _ = (y for _, y in made.points)
    even = abs((middle - second) - (fourth - middle)) <= ROUNDED
    return even and any(abs(each.demand - middle) <= ROUNDED for each in hovers)
