"""Replies, as they are typed, read as values. What is understood stands in `interview.toml`."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from setuplint.interview.data import YES_NO, Interview, Question
from setuplint.interview.functions import FUNCTIONS
from setuplint.interview.terms import value
from setuplint.setup.declarations import STICKS
from setuplint.setup.formulas import RESERVED

TAKEN = (*STICKS, "pack", "link", "receiver", "used", "pack-low", "levelled-off", "straight")
ROUNDED = Fraction(1, 50)  # percent: what two decimals on a scale of 100 leave open
THOUSANDS = re.compile(r"(^|[^0-9.])([1-9][0-9]{0,2})\.([0-9]{3})(?![0-9])")  # in small letters: , is . there
NOT_NAMES = frozenset((*RESERVED, *TAKEN))


class Misread(Exception):
    """Why a reply is no answer, in one line."""


def answer(interview: Interview, question: Question, reply: str, channels: list[str]) -> Any:
    """What a reply to a question means; None where it says that it is not known. Misread where it means nothing."""
    text = reply.strip()
    low = tidied(interview, text)
    if low in interview.words["unknown"]:
        return None
    if question.none and low in interview.words["none"]:
        return False
    if question.yes_no or question.choices:
        words = list(YES_NO) if question.yes_no else list(question.choices)
        chosen = _choice(words, low)
        if chosen is None:
            needed, none = question.needed, question.none
            raise Misread(complaint(interview, "choice", words=words, needed=needed, none=none))
        return YES_NO[chosen] if question.yes_no else chosen
    if question.sticks:
        found = _names(interview.readers["names"], low, STICKS)
        if found is None:
            raise Misread(complaint(interview, "sticks", words=list(STICKS)))
        return found
    found = reading(interview, question.reader, text, channels)
    if found is None:
        says = interview.readers[question.reader]["says"]
        raise Misread(complaint(interview, "misread", reply=text, says=says, none=question.none))
    return found


def complaint(interview: Interview, which: str, **names: Any) -> str:
    """One of the sentences about a reply that is no answer."""
    return str(value(interview.complaints[which], names.get, FUNCTIONS))


def reading(interview: Interview, reader: str, reply: str, channels: list[str] | None = None) -> Any:
    """What one of the readers makes of a text; None where it cannot be read."""
    rules = interview.readers[reader]
    text, low = reply.strip(), tidied(interview, reply)
    if rules.get("pairs"):
        return _pairs(rules, low, channels or [])
    if rules.get("list"):
        return _names(rules, low)
    if rules.get("names"):
        name = _name(low)
        return name if re.fullmatch(rules["pattern"], name, re.ASCII) and name not in NOT_NAMES else None
    if "pattern" in rules:
        return text if re.fullmatch(rules["pattern"], text) else None
    return rules["words"][low] if low in rules.get("words", ()) else _as_printed(rules, low)


def shown_answer(interview: Interview, question: Question, what: Any) -> str:
    """A value as it is shown to a pilot."""
    if what is None:
        return "not known"
    if isinstance(what, bool):
        return "yes" if what else "no"
    if question.choices:
        return str(what)
    rules = interview.readers["names" if question.sticks else question.reader]
    return str(value(rules["shown"], {"x": what}.get, FUNCTIONS))


def tidied(interview: Interview, reply: str) -> str:
    """A reply in small letters, with one sign for each thing: 7,1 is 7.1."""
    text = reply.strip().lower()
    for pattern, by in interview.words["tidy"]:
        text = re.sub(pattern, by.replace("$", "\\"), text)
    return text


def _choice(words: list[str], low: str) -> str | None:
    fitting = [low] if low in words else [word for word in words if low and word.startswith(low)]
    return fitting[0] if len(fitting) == 1 else None


def _as_printed(rules: dict[str, Any], low: str) -> Fraction | None:
    """A number, also in the form in which it is printed: +16 % (58 of 100, 1580 µs), where all say the same."""
    found = re.fullmatch(r"([^()]+) \(([^()]+)\)", low)
    if not found:
        return _number(rules, low)
    numbers = [_number(rules, part) for part in (found[1], *found[2].split(", "))]
    one = numbers[0]
    same = one is not None and all(each is not None and abs(each - one) <= ROUNDED for each in numbers)
    return one if same else None


def _number(rules: dict[str, Any], low: str) -> Fraction | None:
    """What it says; None where it may as well be a thousand times that: 2,600 mAh, which some write for 2600."""
    number, grouped = _plain_number(rules, low), THOUSANDS.sub(r"\1\2\3", low)
    return None if grouped != low and _plain_number(rules, grouped) is not None else number


def _plain_number(rules: dict[str, Any], low: str) -> Fraction | None:
    for pattern, made in rules["forms"]:
        found = re.fullmatch(pattern, low, re.ASCII)
        if found:
            number = value(made, {"x": Fraction(found.group(1))}.get, FUNCTIONS)
            inside = Fraction(rules["low"]) <= number <= Fraction(rules["high"])
            whole = number.denominator == 1 or not rules.get("whole")
            return number if inside and whole else None
    return None


def _name(low: str) -> str:
    return re.sub("[ _]+", "-", low)


def _names(rules: dict[str, Any], low: str, among: tuple[str, ...] = ()) -> Any:
    names = [_name(part.strip()) for part in low.split(",")]
    fit = all(re.fullmatch(rules["pattern"], name, re.ASCII) for name in names)
    fit = fit and all(name in among if among else name not in NOT_NAMES for name in names)
    if fit and len(set(names)) == len(names) and len(names) <= int(rules["most"]):
        return names
    return None


def _pairs(rules: dict[str, Any], low: str, channels: list[str]) -> dict[str, Fraction] | None:
    found: dict[str, Fraction] = {}
    for part in re.split("[ ,]+", low):
        name, _, number = part.partition("=")
        fits = name in channels and re.fullmatch("[0-9]{1,2}", number, re.ASCII) and name not in found
        if not fits or not Fraction(rules["low"]) <= Fraction(number) <= Fraction(rules["high"]):
            return None
        found[name] = Fraction(number)
    return found if found and len(set(found.values())) == len(found) else None
