"""Settings of the controls as they are written on the command line."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.plain.settings import Given, Reading, reading_range
from setuplint.plain.state import LOST, TRIM, UNHEARD
from setuplint.setup.meant import number_meant
from setuplint.setup.model import Setup
from setuplint.setup.names import UNITS

STICK = "% of a channel's output"  # percent, or 58 of 100
LONGEST = 20  # characters of a number


def parsed_settings(setup: Setup, written: Iterable[str]) -> Given:
    """`hold=on`, `throttle=20`, `pack=21.5`, `link=lost`, also several with commas between; else Trouble."""
    given: dict[str, Reading] = {}
    for piece in (piece.strip() for text in written for piece in text.split(",")):
        name, equals, where = (part.strip() for part in piece.partition("="))
        if not equals:
            raise Trouble(f"{piece!r} is not like hold=on")
        if name in given:
            raise Trouble(f"{name} is set twice at once")
        given[name] = _reading(setup, name, where)
    return given


def _reading(setup: Setup, name: str, where: str) -> Reading:
    if name in setup.switches:
        positions = setup.switches[name].positions
        where = where if where in positions else where.lower()
        if where not in positions:
            raise Trouble(
                f"{name} has no position {where}{did_you_mean(where, positions)} (it has {', '.join(positions)})"
            )
        return where
    if name in setup.sticks:
        return _number_in_range(name, where, Fraction(-100), Fraction(100), "percent", STICK)
    if name in setup.sensors:
        if where in (LOST, UNHEARD):
            return where
        low, high = reading_range(setup, setup.sensors[name])
        unit = UNITS[setup.sensors[name].reads]
        return _number_in_range(name, where, low, high, "lost or unheard, or a number", unit)
    trims = {
        f"{stick.name}{TRIM}": stick.trim for stick in setup.sticks.values() if not stick.knob and not stick.pupil_of
    }
    if name in trims:
        most = Fraction(100) if (trim := trims[name]) is None else trim
        return _number_in_range(name, where, -most, most, "percent", STICK)
    known = [*setup.switches, *setup.sticks, *setup.sensors, *(name for name, trim in trims.items() if trim)]
    near = did_you_mean(name, known) or f"; there is {', '.join(known)}"
    raise Trouble(f"there is no control or sensor {name}{near}")


def _number_in_range(name: str, where: str, low: Fraction, high: Fraction, what: str, unit: str) -> Fraction:
    number = number_meant(where, unit) if len(where) <= LONGEST else None
    if number is not None and low <= number <= high:
        return number
    raise Trouble(f"{name} takes {what} from {float(low):g} to {float(high):g}, not {where}")
