"""The hover throttle at the field: as measured, or reckoned for the air there (MEANING.md 5). What rests on that is advice."""

from __future__ import annotations

from fractions import Fraction

from setuplint.book.rotor import hover_elsewhere
from setuplint.dataclass import dataclass
from setuplint.findings import Place
from setuplint.setup.model import Setup

KEYS = (("craft", "hover-throttle"), ("craft", "hover-measured-at-m"), ("field", "elevation-m"))


@dataclass(frozen=True, slots=True)
class Shift:
    """`measured` is the motor's output in a hover at `measured_at` metres, `value` what it comes to at `field` metres."""

    measured: Fraction
    measured_at: Fraction
    field: Fraction
    value: Fraction

    @property
    def words(self) -> str:
        """+25.9 % at 1,900 m, from +16 % measured at 240 m."""
        there, here = (f"{float(round(x, 1)):+g} %" for x in (self.value, self.measured))
        return f"{there} in the air at {float(self.field):,g} m, from {here} measured at {float(self.measured_at):,g} m"


def shift(setup: Setup) -> Shift | None:
    """None unless the hover throttle is given, and both elevations, and they make a difference."""
    craft = setup.craft
    measured, measured_at, field = craft.hover_throttle, craft.hover_measured_at_m, setup.elevation_m
    if measured is None or measured_at is None or field is None or measured_at == field:
        return None
    return Shift(measured, measured_at, field, hover_elsewhere(measured, measured_at, field))


def places(found: Shift | None) -> list[Place]:
    """The two elevations, where they matter."""
    captions = ("where the hover was measured", "where it is flown: the air differs")
    return [Place(path, caption) for path, caption in zip(KEYS[1:], captions, strict=True)] if found else []
