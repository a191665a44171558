"""Settings of the controls as they are written on the command line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.plain.settings import Given, Reading, reading_range
from setuplint.plain.state import LOST, UNHEARD
from setuplint.setup.model import Setup

_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(\.[0-9]{1,9})?", re.ASCII)


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
        if where not in positions:
            raise Trouble(
                f"{name} has no position {where}{did_you_mean(where, positions)} (it has {', '.join(positions)})"
            )
        return where
    if name in setup.sticks:
        return _number_in_range(name, where, Fraction(-100), Fraction(100), "percent")
    if name in setup.sensors:
        if where in (LOST, UNHEARD):
            return where
        return _number_in_range(name, where, *reading_range(setup, setup.sensors[name]), "lost or unheard, or a number")
    known = [*setup.switches, *setup.sticks, *setup.sensors]
    near = did_you_mean(name, known) or f"; there is {', '.join(known)}"
    raise Trouble(f"there is no control or sensor {name}{near}")


def _number_in_range(name: str, where: str, low: Fraction, high: Fraction, what: str) -> Fraction:
    if _NUMBER.fullmatch(where) and low <= Fraction(where) <= high:
        return Fraction(where)
    raise Trouble(f"{name} takes {what} from {float(low):g} to {float(high):g}, not {where}")
