"""Numbers, dates and what to say of a word that is neither.

Our limits: a whole number has at most 4,300 digits, or 3,500 after 0x, 0o or 0b; a float whose exponent has more than
18 digits is infinite or zero.
"""

import re

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

_FLOAT = re.compile(
    r"[+-]?(?:(?:0|[1-9](?:_?[0-9])*)(?:\.[0-9](?:_?[0-9])*)?(?:[eE][+-]?[0-9](?:_?[0-9])*)?|inf|nan)"
).fullmatch
_MAX_DIGITS, _MAX_PREFIXED = 4_300, 3_500
_ALIKE = str.maketrans("OoIl", "0011")
_DIGITS = {"0x": (16, "0123456789abcdefABCDEF"), "0o": (8, "01234567"), "0b": (2, "01")}
_DATE = "[0-9]{4}-[0-9]{2}-[0-9]{2}"
_TIME = r"[0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]+)?"


def scalar_value(word: str) -> "Any":
    """The value of a word other than true and false; None if it has none."""
    body = word[1:] if word[0] in "+-" else word
    if body.isdigit():
        return int(word) if (body[0] != "0" or body == "0") and len(body) <= _MAX_DIGITS else None
    if _FLOAT(word):
        return _float(word)
    prefixed = _DIGITS.get(word[:2])
    if prefixed:
        return _prefixed(word[2:], *prefixed)
    if word[2:3] == ":" or word[4:5] == "-":
        return _moment(word)
    return None


def _float(word: str) -> "Any":
    if "." not in word and "e" not in word and "E" not in word and word[-1].isdigit():
        return int(word) if len(word.replace("_", "")) <= _MAX_DIGITS else None
    import decimal

    try:
        return decimal.Decimal(word)
    except decimal.InvalidOperation:
        # The exponent has more digits than Decimal holds.
        mantissa, _, exponent = word.lower().partition("e")
        number = decimal.Decimal(mantissa)
        return number and number * (0 if exponent[0] == "-" else decimal.Decimal("inf"))


def _prefixed(digits: str, base: int, allowed: str) -> int | None:
    bare = digits.replace("_", "")
    if not bare or len(bare) > _MAX_PREFIXED or bare.strip(allowed):
        return None
    if digits[0] == "_" or digits[-1] == "_" or "__" in digits:
        return None
    return int(bare, base)


def _moment(word: str) -> "Any":
    if not re.fullmatch(
        rf"{_DATE}|(?:{_DATE}[Tt ])?{_TIME}|{_DATE}[Tt ]{_TIME}(?:[Zz]|[+-][0-9]{{2}}:[0-9]{{2}})", word
    ):
        return None
    import datetime

    try:
        if len(word) == 10 and word[4] == "-":
            return datetime.date(int(word[:4]), int(word[5:7]), int(word[8:]))
        if word[2] == ":":
            return datetime.time(*_clock(word))
        date = int(word[:4]), int(word[5:7]), int(word[8:10])
        return datetime.datetime(*date, *_clock(word[11:]), tzinfo=_zone(word))
    except ValueError:
        return None


def _clock(word: str) -> tuple[int, int, int, int]:
    digits = re.match("[0-9]*", word[9:])
    fraction = digits[0][:6].ljust(6, "0") if digits and word[8:9] == "." else "0"
    return int(word[:2]), int(word[3:5]), int(word[6:8]), int(fraction)


def _zone(word: str) -> "Any":
    import datetime

    if word[-1] in "Zz":
        return datetime.UTC
    if word[-6] not in "+-":
        return None
    hours, minutes = int(word[-5:-3]), int(word[-2:])
    if hours > 23 or minutes > 59:
        raise ValueError(word)
    offset = datetime.timedelta(hours=hours, minutes=minutes)
    return datetime.timezone(-offset if word[-6] == "-" else offset)


def digits_meant(word: str) -> str:
    """The number that was meant where letters stand for the digits that they look like; empty where that cannot be told."""
    meant = re.fullmatch("([+-]?)(?=.*[0-9])([0-9OoIl]+(?:[.][0-9OoIl]+)?)", word)
    # degrees and litres are written so
    if meant is None or meant[2].isdecimal() or re.fullmatch("[0-9.]+[ol]", meant[2]):
        return ""
    digits = meant[2].translate(_ALIKE)
    return f"{meant[1]}{digits}" if re.fullmatch("(?:0|[1-9][0-9]*)(?:[.][0-9]+)?", digits) else ""


def word_fault(word: str) -> tuple[str, str]:
    """What is wrong with a word that is no value, and what to do."""
    meant = digits_meant(word) if len(word) <= 40 else ""
    if meant:
        return f"`{word}` is not a number: it has letters that look like digits.", f"Did you mean {meant}?"
    shown = word if len(word) <= 40 else word[:40] + "..."
    body = word.lstrip("+-")
    if word.lower() in ("true", "false"):
        return f"`{shown}` must be in lower case.", f"Write {word.lower()}."
    if not body[:1].isdigit() and not body.startswith("."):
        if body.lower() in ("inf", "nan", "infinity"):
            return f"`{shown}` is not a number.", "Write inf, -inf or nan, in lower case."
        return f"`{shown}` is not a value.", f'Put text in quotes: "{shown}".'
    if len(word.replace("_", "")) > _MAX_PREFIXED:
        return "This number is too long to be read.", "Write a number of fewer digits."
    if body.startswith(".") or body.endswith("."):
        return f"`{shown}` lacks a digit beside its point.", "Write a digit on both sides of the point, as in 0.5."
    if re.fullmatch("0[0-9_]+(?:[.].*)?", body):
        return f"`{shown}` begins with a zero too many.", "Leave the leading zeros out."
    if body[2:3] == ":" or re.match("[0-9]{4}-[0-9]{2}", body):
        return (
            f"`{shown}` is not a date or a time that exists.",
            "Write dates as 2027-04-01 and times as 18:30:00, with the seconds.",
        )
    if re.fullmatch("[0-9]+(?:[.][0-9]+)?[A-Za-z%]+", body) and body[:2].lower() not in _DIGITS:
        return f"`{shown}` is not a number.", "Write the number alone, in digits and without a unit."
    if "_" in word:
        return f"`{shown}` is not a number.", "An underscore may only stand between two digits."
    return f"`{shown}` is not a number.", "Write a number as in 42, -7 or 21.6, or put text in quotes."
