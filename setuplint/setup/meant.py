"""What was meant by a value or a word that the format does not take, where that is certain; nothing otherwise.

A number with another unit than its key's is put into that unit. A letter that looks like a digit is read as one; what may be
a decimal as well as a thousand (2,600) is neither.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import cache

from setuplint.setup.formula_text import decimal_text
from setuplint.setup.shape import Node, tables
from setuplint.source import Document, Problem, Span
from setuplint.source.scalars import digits_meant

FLAGS = dict.fromkeys(("yes", "on", "true", "1"), "true") | dict.fromkeys(("no", "off", "false", "0"), "false")
UNITS: Mapping[str, Mapping[str, Fraction]] = {
    "%": {"%": Fraction(1), "percent": Fraction(1)},
    "s": {"s": Fraction(1), "sec": Fraction(1), "seconds": Fraction(1), "ms": Fraction(1, 1000), "min": Fraction(60)},
    "V": {"v": Fraction(1), "volt": Fraction(1), "volts": Fraction(1), "mv": Fraction(1, 1000)},
    "A": {"a": Fraction(1), "amp": Fraction(1), "amps": Fraction(1), "ma": Fraction(1, 1000)},
    "mAh": {"mah": Fraction(1), "ah": Fraction(1000)},
    "milliohm": {
        **dict.fromkeys(("mohm", "mω", "milliohm"), Fraction(1)),
        **dict.fromkeys(("ohm", "ω"), Fraction(1000)),
    },
    "cells": {"s": Fraction(1), "cell": Fraction(1), "cells": Fraction(1)},
    "m": {"m": Fraction(1)},
    "µs": {"µs": Fraction(1), "μs": Fraction(1), "us": Fraction(1)},
}
DASHES = str.maketrans("−–", "--")
LONGEST = 40  # characters
LONGEST_LINE = 400
_digits = re.compile(r"[-+]?(?:0|[1-9][0-9]*)(?:[.][0-9]+)?", re.ASCII).fullmatch
_minutes = re.compile(r"([0-9]{1,3}):([0-5][0-9])", re.ASCII).fullmatch
# as outputs print it, with or without a pulse
_printed = re.compile(r"([^()]+) \(([^(),]+ of 100)(?:, [^()]+)?\)").fullmatch
_of_100 = re.compile(r"(.*\S) of 100", re.ASCII).fullmatch


def number_meant(text: str, unit: str = "") -> Fraction | None:
    """The number that a text says, in a unit of the format (% of travel, mAh ...); None where that is not certain."""
    text = text.strip()
    if len(text) > LONGEST:
        return None
    printed = _printed(text)
    if printed and unit.endswith("channel's output"):
        one, other = (number_meant(part, unit) for part in printed.groups())
        return one if one is not None and other is not None and abs(one - other) <= Fraction(1, 50) else None
    minutes, of_100 = _minutes(text), _of_100(text)
    if minutes and unit[:1] == "s":
        return Fraction(60 * int(minutes[1]) + int(minutes[2]))
    if of_100 and unit.endswith("channel's output"):
        shown = _plain_number(of_100[1])
        return None if shown is None else 2 * shown - 100
    known, low = UNITS.get(re.split("[ ,]", unit)[0], {}), text.lower()
    for spelled in sorted(known, key=len, reverse=True):
        if low.endswith(spelled) and (number := _plain_number(text[: -len(spelled)].rstrip())) is not None:
            return number * known[spelled]
    return _plain_number(text)


def _plain_number(text: str) -> Fraction | None:
    plain = text.translate(DASHES).replace(",", ".", 1)
    plain = digits_meant(plain) or plain
    whole, _, decimals = plain.partition(".")
    may_be_a_thousand = "," in text and len(decimals) == 3 and whole.lstrip("+-") != "0"
    return None if may_be_a_thousand or _digits(plain) is None else Fraction(plain)


def value_meant(text: str, node: Node, unit: str = "") -> str:
    """What a text means as a value of this part of the schema, as TOML writes it; empty where that is not certain."""
    kind = node["type"]
    if kind == "either":
        numbers = (choice for choice in node["choices"] if choice["type"] == "number")
        return next((value_meant(text, choice, unit) for choice in numbers), "")
    if kind == "list":
        return value_meant(text, node["each"], unit)
    if kind == "pair":  # a point of a curve: its output has the wider range
        return value_meant(text, node["each"][-1], unit)
    if kind == "flag":
        return FLAGS.get(text.strip().lower(), "")
    if kind not in ("number", "whole"):
        return ""
    number, (low, high) = number_meant(text, node.get("unit", unit)), node["range"]
    if number is None or not low <= number <= high or (kind == "whole" and number.denominator > 1):
        return ""
    return decimal_text(number) or ""


def fault_meant(document: Document, fault: Problem) -> tuple[Span, str]:
    """The place of what is not TOML, and what to do: where it is certain which value was meant, the whole value's."""
    text, (start, end) = document.text, fault.span
    if not fault.message.startswith(("`", "A number has a point")):
        return fault.span, fault.help
    word = text[start:end].partition("#")[0].rstrip()
    before = text[text.rfind("\n", 0, start) + 1 : start]
    found = re.search(r"([A-Za-z0-9_-]+)[ \t]*=[^=]*?((?:[-+]?\d[\d.]*[ \t]*)?)$", before[-LONGEST_LINE:])
    if found is None:
        return fault.span, fault.help
    said, (first, key) = found[2] + word, (len(found[2]), found[1])
    meant = {value_meant(said, node, unit) for node, unit in _keys().get(key, [(_OUTPUT, "%")])}
    if len(meant) > 1 or not (value := meant.pop()):
        return fault.span, fault.help
    return Span(start - first, start + len(word)), f"Did you mean {value}?"


_OUTPUT: Node = {"type": "number", "range": [-150, 150]}  # as under [failsafe], whose keys are names


@cache
def _keys() -> Mapping[str, list[tuple[Node, str]]]:
    """The keys of all tables by their names: what each takes, and in which unit."""
    found: dict[str, list[tuple[Node, str]]] = {}
    for table in tables().values():
        for name, row in table["keys"].items():
            found.setdefault(name, []).append((row, row.get("unit", "")))
    return found


def formula_word_meant(text: str, start: int, end: int) -> tuple[int, int, str]:
    """Of what is no part of a formula: which stretch to replace, and by what; empty where that is not certain."""
    word = text[start:end]
    if word in ("=", "==") and text[end:].lstrip()[:1].isalpha():
        return start, end, "is"
    if re.fullmatch("![a-z][a-z0-9-]*", word, re.ASCII):
        return start, end, f"not {word[1:]}"
    if word in OPERATORS:
        return start, end, OPERATORS[word]
    before = re.search(r"-?[0-9][0-9.]*[ ]?$", text[max(0, start - LONGEST) : start])
    if before and not re.match(r"[-−–0-9]", word):  # 7,1 and 21.6 V
        start, word = start - len(before[0]), before[0] + word
    closing = len(word) - len(word.rstrip(")"))
    end, word = end - closing, word[: len(word) - closing]
    unit = next((unit for unit in THRESHOLDS if word.lower().endswith(unit)), "")
    number = number_meant(word[: len(word) - len(unit)])
    if number is not None:
        return start, end, decimal_text(number) or ""
    lower = word.lower()
    return start, end, lower if re.fullmatch("[a-z][a-z0-9]*(?:-[a-z0-9]+)*", lower, re.ASCII) else ""


OPERATORS = {"&&": "and", "&": "and", "||": "or", "|": "or", "=<": "<=", "=>": ">=", "≤": "<=", "≥": ">=", "!": "not"}
THRESHOLDS = ("%", "v", "mah")  # units that are the same whatever the sensor; 2.6 A on one of charge may mean 2.6 Ah


def close_word(word: str, among: tuple[str, ...]) -> str:
    """The word of a formula that a misspelt one looks like: annd, oor."""
    from difflib import get_close_matches

    if len(word) > LONGEST or word in OTHER_JOINTS:
        return ""
    return next(iter(get_close_matches(word.lower(), among, 1, 0.65)), "")


OTHER_JOINTS = ("for", "nor", "xor")  # near to or, and another thing
