"""What two setups do differently, in a pilot's words: for every way of writing a comparison down."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import NamedTuple

from setuplint.comparison.changes import Comparison, CraftChange, SideValue
from setuplint.comparison.regions import Region, ValueRange, full_range
from setuplint.formats import case_text
from setuplint.formats.controls import Controls, with_unit
from setuplint.formats.numbers import decimal, motor, percent, signed
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.setup.model import Setup

SPOKEN = {"start": "the start check at power-up", "mode": "the mode"}
THEN = {"sounds": "sounded", "runs": "ran", "stands": "stood still"}
SAME = {
    "channel": "outputs of {} channel{s}",
    "mode": "the mode flown",
    "alarm": "{} alarm{s}",
    "timer": "{} timer{s}",
    "intent": "what calls {} of hold, stop and rescue",
    "start": "what the start check admits",
}


class Told(NamedTuple):
    """One change: what it is, in which states, and a case to try. The last two are empty where no state is needed."""

    what: str
    where: str
    bench: str


class Teller:
    """Puts the changes of one comparison into words. `values` are the controls as both files have them."""

    def __init__(self, comparison: Comparison, values: Mapping[str, object]) -> None:
        self.comparison, self.values, self.controls = comparison, values, Controls(values)

    def told(self, change: CraftChange) -> Told:
        return Told(self.what(change), self.where(change), self.case(change))

    def what(self, change: CraftChange) -> str:
        subject, before, now = plain(change.subject), self.value(change, change.before), self.value(change, change.now)
        if change.kind == "written":
            return _written(subject, change.before, change.now)
        if change.kind == "output":
            return f"{subject}: {before} before, {now} now{_by(change)}"
        name = SPOKEN.get(change.kind) or f"{change.kind} {subject}"
        if change.before is None or change.now is None:
            return (
                f"{name} is new; it {now}"
                if change.before is None
                else f"{name} is gone; it {THEN.get(before, before)}"
            )
        return f"{name}: {THEN.get(before, before)} before, {now} now"

    def value(self, change: CraftChange, given: SideValue) -> str:
        if isinstance(given, Fraction):
            return motor(self.values, given) if change.motor else percent(given)
        return "" if given is None else plain(given)

    def where(self, change: CraftChange) -> str:
        if change.kind == "written" or self.comparison.controls is None:
            return ""
        parts = [self.part(part, change, self.comparison.controls) for part in change.where]
        text = "; or ".join(dict.fromkeys(part or "in every state" for part in parts))
        return text if change.whole or not text else f"{text}; and in other states"

    def part(self, part: Region, change: CraftChange, setup: Setup) -> str:
        return ", ".join(self.words(part, change, setup))

    def words(self, part: Region, change: CraftChange, setup: Setup) -> Iterator[str]:
        for switch, places in part.positions.items():
            order = [p for p in setup.switches[switch].positions if p in places]
            yield " or ".join((self.controls.kept(switch, order[0]), *map(plain, order[1:])))
        stretches = dict(change.sticks or {})
        for name, interval in part.between.items():
            if name in stretches:
                stretches[name] = tuple(within(stretches[name], interval))
            else:
                yield from self.between(name, interval, setup)
        for name, found in stretches.items():
            if found and found != ((Fraction(-100), Fraction(100)),):
                yield f"{plain(name)} {' or '.join(map(stretch, found))}"
        yield from (f"{plain(name)} lost" for name in sorted(part.lost))
        yield from _remembered(part.remembered)
        if part.off:
            yield "the receiver not heard"

    def between(self, name: str, interval: ValueRange, setup: Setup) -> Iterator[str]:
        lo, hi, with_lo, with_hi = interval
        bottom, top = (
            (lo, with_lo) == (full_range(setup, name)[0], True),
            (hi, with_hi) == (full_range(setup, name)[1], True),
        )
        unit = with_unit(setup.sensors[name].reads, Fraction(0))[1:] if name in setup.sensors else f"{FIXED_SPACE}%"
        low, high = decimal(lo), f"{decimal(hi)}{unit}"
        if bottom and top:
            words = "heard" if name in setup.sensors else ""
        elif lo == hi:
            words = f"at {high}"
        elif bottom:
            words = f"{'up to' if with_hi else 'under'} {high}"
        elif top:
            words = f"{'from' if with_lo else 'over'} {low}{unit}{' up' if with_lo else ''}"
        elif with_lo == with_hi:
            words = f"from {low} to {high}" if with_lo else f"between {low} and {high}"
        else:
            words = f"from {low} to under {high}" if with_lo else f"over {low} up to {high}"
        if words:
            yield f"{plain(name)} {words}"

    def case(self, change: CraftChange) -> str:
        """A case to try on the bench."""
        if change.witness is None:
            return ""
        if len(change.steps) > 1:
            steps = [case_text.moves(step, self.controls, first=n == 0) for n, step in enumerate(change.steps)]
            text = "; ".join(f"{n}. {step}" for n, step in enumerate(steps, start=1))
        else:
            text = case_text.standing(change.witness, self.controls)
        assumed = f", taking it that {'; '.join(map(plain, change.assumed))}" if change.assumed else ""
        return f"{text}{assumed}"


def _remembered(remembered: Mapping[str, bool]) -> Iterator[str]:
    """Latches and toggles that are on or off: `old NAME` and `new NAME` where they are not the same in both."""
    names = [name.partition(" ")[2] for name in remembered]
    for name, on in remembered.items():
        side, _, own = name.partition(" ")
        when = {"old": " before", "new": " now"}[side] if names.count(own) > 1 else ""
        yield f"{plain(own)} {'on' if on else 'off'}{when}"


def _by(change: CraftChange) -> str:
    """Who decides, where an override does; of lines in modes the states tell enough."""
    was, now = (who if who.startswith("override ") else "its own line" for who in (change.was_by, change.by))
    if was == now:
        return f" ({plain(now)})" if now == change.by else ""
    return f" ({plain(was)} before, {plain(now)} now)"


def _written(subject: str, before: SideValue, now: SideValue) -> str:
    if before == "there" and now is None:
        return f"{subject} is gone"
    if now == "there" and before is None:
        return f"{subject} is new"
    return f"{subject}: {_number(before)} before, {_number(now)} now"


def _number(given: SideValue) -> str:
    if isinstance(given, Fraction):
        return decimal(given, 6)
    return "not given" if given is None else plain(given)


Stretch = tuple[Fraction, Fraction]


def within(stretches: tuple[Stretch, ...], interval: ValueRange) -> Iterator[Stretch]:
    """What of some stretches lies in an interval."""
    for lo, hi in stretches:
        low, high = max(lo, interval.lo), min(hi, interval.hi)
        if low < high or (low == high and lo == hi):
            yield low, high


def stretch(interval: Stretch) -> str:
    lo, hi = interval
    if lo == hi:
        return f"at {signed(lo)}{FIXED_SPACE}%"
    return f"from {signed(lo)} to {signed(hi)}{FIXED_SPACE}%"


def same(comparison: Comparison) -> list[str]:
    """What is proved to be the same in every state."""
    counts = comparison.same or {}
    return [SAME[kind].format(count, s="" if count == 1 else "s") for kind, count in counts.items()]


def controls_of(old: Mapping[str, object], new: Mapping[str, object]) -> dict[str, object]:
    """The controls of both files, as witnesses name them; all else as the new one has it."""
    found = dict(new)
    for table in ("switches", "sensors"):
        tables = [each for each in (old.get(table), new.get(table)) if isinstance(each, Mapping)]
        found[table] = {name: part for each in tables for name, part in each.items()}
    return found
