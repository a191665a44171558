"""The functions that terms may call. `interview.js` has the same ones, and a test holds both to the same results."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from math import floor
from typing import Any

from setuplint.checks.cells import charge_left
from setuplint.formats.toml import toml_value
from setuplint.interview.terms import decimal_text, holds


def known(what: Any) -> bool:
    """Whether it is known, and there is one."""
    return what is not None and what is not False


def least(*items: Any) -> Any:
    """Of the numbers that are known; of a list's, where it is given one."""
    numbers = _numbers(items)
    return min(numbers) if numbers else None


def most(*items: Any) -> Any:
    numbers = _numbers(items)
    return max(numbers) if numbers else None


def _numbers(items: tuple[Any, ...]) -> list[Fraction]:
    parts = [part for item in items for part in (item if isinstance(item, list) else [item])]
    return [part for part in parts if isinstance(part, Fraction)]


def count(items: Any) -> Fraction:
    return Fraction(len(items) if holds(items) else 0)


def join(items: Any, between: str) -> str | None:
    """Of what is known in a list; None where nothing is."""
    parts = [decimal_text(item) if isinstance(item, Fraction) else item for item in items or [] if known(item)]
    return between.join(parts) if parts else None


def down(number: Any, step: Fraction) -> Any:
    """To the next multiple of a step at or below."""
    return floor(number / step) * step if isinstance(number, Fraction) else None


def steps(low: Fraction, high: Fraction, by: Fraction) -> list[Fraction]:
    """From one number to another, both included."""
    return [low + number * by for number in range(floor((high - low) / by) + 1)]


def first(items: list[Any]) -> Any:
    return items[0] if items else None


def last(items: list[Any]) -> Any:
    return items[-1] if items else None


def rest(items: Any) -> Any:
    """All but the first."""
    return items[1:] if items else []


def flat(items: Any) -> list[Any]:
    """The items of the lists in a list."""
    return [part for item in items or [] for part in item]


def keys(table: Any) -> list[Any]:
    return list(table) if holds(table) else []


def quoted(text: Any) -> str | None:
    """As a TOML string."""
    return toml_value(text) if isinstance(text, str) else None


def flag(answer: Any) -> str | None:
    """As a TOML flag."""
    return None if answer is None else "true" if holds(answer) else "false"


def spoken(name: Any) -> Any:
    """A name in words: idle-up-1 is idle up 1."""
    return name.replace("-", " ") if isinstance(name, str) else None


def padded(text: Any, width: Fraction) -> Any:
    return text.ljust(int(width)) if isinstance(text, str) else None


def charge(chemistry: Any, volts: Any) -> Any:
    """Percent of the charge left in a cell that has rested at that voltage: the median of published cells."""
    return charge_left(chemistry, volts).median if known(chemistry) and isinstance(volts, Fraction) else None


def percent(number: Any) -> str | None:
    """+16 %"""
    return f"{'+' if number > 0 else ''}{_short(number)} %" if isinstance(number, Fraction) else None


def motor(number: Any) -> str | None:
    """On both scales and as a pulse: +16 % (58 of 100, 1580 µs)."""
    if not isinstance(number, Fraction):
        return None
    return f"{percent(number)} ({_short((number + 100) / 2)} of 100, {_short(1500 + 5 * number)} µs)"


def _short(number: Fraction) -> str:
    """To two decimals, halves up."""
    return decimal_text(floor(number * 100 + Fraction(1, 2)) / Fraction(100))


FUNCTIONS: Mapping[str, Callable[..., Any]] = {
    each.__name__: each
    for each in (
        *(known, least, most, count, join, down, steps, first, last, rest, flat, keys),
        *(quoted, flag, spoken, padded, charge, percent, motor),
    )
}
