"""Random choices, and formulas joined at random."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

T = TypeVar("T")


class Pick:
    """Where the choices come from: a seeded generator, or hypothesis."""

    def __init__(self, integer: Callable[[int, int], int]) -> None:
        self.integer = integer

    def one(self, things: Sequence[T]) -> T:
        return things[self.integer(0, len(things) - 1)]

    def chance(self, percent: int) -> bool:
        return self.integer(1, 100) > 100 - percent

    def some(self, things: Sequence[T], count: int) -> list[T]:
        left = list(things)
        return [left.pop(self.integer(0, len(left) - 1)) for _ in range(min(count, len(left)))]


def number(text: str) -> Any:
    """A number that the file shows as it is written here."""
    return int(text) if "." not in text else Written(text)


class Written(str):
    """Digits that go into the file without quotes."""


def times(volts: str, cells: int) -> str:
    hundredths = round(float(volts) * 100) * cells
    return f"{hundredths // 100}.{hundredths % 100:02d}"


def combine(pick: Pick, leaf: Callable[[], str], most: int) -> str:
    """One to `most` leaves joined at random, with more parentheses and spaces than needed now and then."""

    def tree(count: int) -> tuple[str, int]:
        if count == 1:
            text, level = leaf(), 3
        else:
            left = pick.integer(1, count - 1)
            word, level = pick.one([("and", 2), ("and", 2), ("or", 1)])
            parts = [tree(left), tree(count - left)]
            text = f" {word} ".join(f"({t})" if at < level or pick.chance(10) else t for t, at in parts)
        if pick.chance(12):
            return (f"not {text}" if level == 3 else f"not ({text})"), 3
        return (f"({text})", 3) if pick.chance(5) else (text, level)

    return tree(pick.integer(1, most))[0]
