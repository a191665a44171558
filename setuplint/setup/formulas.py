"""The tree of the one formula language, its names resolved.

A formula stands in conditions, modes, overrides, alarms, timers, `[start]` and `[intent]`; in claims and rules it may also
ask for outputs and for the predicates of MEANING.md section 7. `formula_parser` reads it, `names` says what each name is.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.dataclass import dataclass
from setuplint.hints import Any

RESERVED = frozenset(
    ("and", "or", "not", "is", "lost", "mode", "output", "flying", "levelled", "lifted", "true", "false")
)
PREDICATES = (
    "hold called",
    "stop called",
    "rescue called",
    "motor runs",
    "rotor driven",
    "flying",
    "levelled",
    "lifted",
    "sprung switches released",
    "start allowed",
)


class _Hashed:
    """Formulas are looked up far more often than they are made: each remembers its hash, in this process alone."""

    __slots__ = ("_hash",)
    _hash: int

    def __hash__(self) -> int:
        try:
            return self._hash
        except AttributeError:
            found = hash((type(self), *[getattr(self, name) for name in self.__match_args__]))  # type: ignore[attr-defined]
            object.__setattr__(self, "_hash", found)
            return found

    def __reduce__(self) -> tuple[type[Any], tuple[Any, ...]]:
        return type(self), tuple(getattr(self, name) for name in self.__match_args__)  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True)
class And(_Hashed):
    items: tuple[Formula, ...]

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Or(_Hashed):
    items: tuple[Formula, ...]

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Not(_Hashed):
    item: Formula

    __hash__ = _Hashed.__hash__


JOINED = (And, Or)
PARTED = (And, Or, Not)


@dataclass(frozen=True, slots=True)
class SwitchIs:
    switch: str
    position: str


@dataclass(frozen=True, slots=True)
class Lost:
    sensor: str


@dataclass(frozen=True, slots=True)
class Compare(_Hashed):
    """A stick, knob or sensor against a number; false of a sensor that is lost or unheard."""

    name: str
    op: str
    number: Fraction

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Holds:
    """A condition."""

    condition: str


@dataclass(frozen=True, slots=True)
class ModeIs:
    mode: str


@dataclass(frozen=True, slots=True)
class OutputCompare(_Hashed):
    """A channel's settled output, in percent, against a number."""

    channel: str
    op: str
    number: Fraction

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Predicate:
    """One of PREDICATES."""

    name: str


@dataclass(frozen=True, slots=True)
class Follows:
    channel: str
    stick: str


@dataclass(frozen=True, slots=True)
class Unknown:
    """What a broken or missing part leaves undetermined: neither true nor false (Kleene)."""

    because: str


# What follows is asked by rules through the library, never written.
@dataclass(frozen=True, slots=True)
class Rises(_Hashed):
    """The channel's own line decides it, and with the stick at +100 it gives more than `by` points above what it gives at -100
    (below it, where `by` is negative), all else kept: before rounding."""

    channel: str
    stick: str
    by: Fraction

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Decides:
    """The override (None: no override, the channel's own line) decides its channel, alone or by a tie."""

    channel: str
    override: str | None


@dataclass(frozen=True, slots=True)
class Active:
    """The override's `when` holds."""

    override: str


@dataclass(frozen=True, slots=True)
class Sounds:
    """The alarm's `when` holds and it has voice, tone or vibration."""

    alarm: str


@dataclass(frozen=True, slots=True)
class CellBelow:
    """The voltage of a cell, whether heard or not, is under a number of volts; unknown without `cells`."""

    volts: Fraction


@dataclass(frozen=True, slots=True)
class Heard:
    """The sensor gives a number: neither lost nor unheard."""

    sensor: str


Formula = (
    And
    | Or
    | Not
    | SwitchIs
    | Lost
    | Compare
    | Holds
    | ModeIs
    | OutputCompare
    | Predicate
    | Follows
    | Rises
    | Unknown
    | Decides
    | Active
    | Sounds
    | CellBelow
    | Heard
)

TRUE: Formula = And(())
FALSE: Formula = Or(())


def both(*items: Formula) -> Formula:
    return items[0] if len(items) == 1 else And(items)


def either(*items: Formula) -> Formula:
    return items[0] if len(items) == 1 else Or(items)


def negation(item: Formula) -> Formula:
    return item.item if isinstance(item, Not) else Not(item)


def conjuncts(formula: Formula) -> list[Formula]:
    """What must all hold for the formula to hold, taken apart as far as it goes."""
    found: list[Formula] = []
    waiting = [formula]
    while waiting:
        now = waiting.pop()
        if isinstance(now, And):
            waiting += reversed(now.items)
        else:
            found.append(now)
    return found


def atoms(formula: Formula) -> Iterator[Formula]:
    """Every leaf, in the order in which it is written; those of a subtree that stands in several places once."""
    waiting = [formula]
    seen: set[int] = set()
    while waiting:
        item = waiting.pop()
        if not isinstance(item, PARTED):
            yield item
        elif id(item) not in seen:
            seen.add(id(item))
            waiting.extend((item.item,) if isinstance(item, Not) else reversed(item.items))


class FormulaError(Exception):
    """The formula cannot be read; `start` and `end` are offsets in its text."""

    def __init__(self, message: str, help: str, start: int, end: int) -> None:
        super().__init__(message)
        self.message, self.help, self.start, self.end = message, help, start, end
