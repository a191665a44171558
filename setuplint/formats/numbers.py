"""Numbers as a pilot reads them: percent with a sign, the motor on both scales, pulses in microseconds."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from math import log10

from setuplint.formats.terminal import FIXED_SPACE

Number = int | float | Fraction
MOST_SAID = 10**15  # of a count, digit by digit


def exact(value: Number) -> Fraction:
    """The number as written: a float counts as its shortest decimal text, as the file had it."""
    if isinstance(value, Fraction):
        return value
    return Fraction(repr(value)) if isinstance(value, float) else Fraction(value)


def decimal(value: Number, most: int = 2) -> str:
    """At most `most` decimals without trailing zeros; rounded half to even."""
    rounded = round(exact(value), most)
    text = f"{float(rounded):.{most}f}".rstrip("0").rstrip(".") if most else str(rounded)
    return "0" if text in ("-0", "") else text


def signed(value: Number, most: int = 2) -> str:
    text = decimal(value, most)
    return text if text.startswith("-") or text == "0" else f"+{text}"


def percent(value: Number) -> str:
    """`+55 %`. A number that only rounding makes a whole one says so: `just over -95 %`."""
    number = exact(value)
    rounded = round(number, 2)
    side = ""
    if rounded != number and rounded.denominator == 1:
        side = "just over " if number > rounded else "just under "
    return f"{side}{signed(rounded)}{FIXED_SPACE}%"


def beside(value: Number) -> str:
    """`just under `, `just over `: of a number that six decimals show as one of three, which it is not; else nothing."""
    number = exact(value)
    near = round(number, 3)
    if number == near or round(number, 6) != near:
        return ""
    return "just over " if number > near else "just under "


def of_hundred(value: Number) -> str:
    """A motor's output on the scale from 0 to 100, where 0 is -100 here: `77.5 of 100`."""
    return f"{decimal((exact(value) + 100) / 2)}{FIXED_SPACE}of{FIXED_SPACE}100"


def json_number(value: Number) -> int | float:
    above, below = exact(value).as_integer_ratio()
    return above if below == 1 else above / below


def json_value(value: Number | str) -> str | int | float:
    """What a control is given: a number, or a word as it is."""
    return value if isinstance(value, str) else json_number(value)


def pulse(values: Mapping[str, object], output: Number) -> Fraction:
    """The pulse of an output in microseconds, by the file's [craft] pulse if it has one (MEANING.md 5)."""
    craft = values.get("craft")
    given = craft.get("pulse") if isinstance(craft, Mapping) else None
    table = given if isinstance(given, Mapping) else {}
    centre = _number_in(table.get("centre"), 500, 2500, Fraction(1500))
    return centre + _number_in(table.get("per-percent"), 0, 20, Fraction(5)) * exact(output)


def _number_in(value: object, low: int, high: int, default: Fraction) -> Fraction:
    """A number of the file if it is in the range, else the default. It is compared first: 1e999999999 is legal TOML."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return default
    try:
        return Fraction(value) if low <= value <= high else default
    except InvalidOperation:  # not a number
        return default


def motor_output(values: Mapping[str, object], output: Number) -> str:
    """A motor's output on both scales and as a pulse: `+55 % (77.5 of 100, 1775 µs)`."""
    return with_pulse(output, pulse(values, output))


def with_pulse(output: Number, us: Fraction) -> str:
    """The same with the pulse in microseconds that is given."""
    return f"{percent(output)} ({of_hundred(output)}, {decimal(us)}{FIXED_SPACE}µs)"


def counted(number: int, noun: str) -> str:
    """`1 state`, `1,296 states`, `about 10^17 states`: nobody reads more digits; the signal words take a plural too."""
    if number > MOST_SAID:
        return f"about 10^{round(log10(number))} {noun}s"
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
