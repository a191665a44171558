"""What two setups do differently, in a pilot's words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import NamedTuple

from setuplint.comparison.changes import Comparison, CraftChange, SideValue
from setuplint.comparison.regions import Region, ValueRange, full_range
from setuplint.formats import case_text
from setuplint.formats.control_words import ControlWords, with_unit
from setuplint.formats.numbers import decimal, motor_output, percent, signed
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


class ChangeText(NamedTuple):
    """One change: what it is, in which states, and a case to try on the bench. The last two may be empty."""

    what: str
    where: str
    bench: str


class ChangeWords:
    """The changes of one comparison in words. `values` are the controls of both files."""

    def __init__(self, comparison: Comparison, values: Mapping[str, object]) -> None:
        self.comparison, self.values, self.controls = comparison, values, ControlWords(values)

    def text_of(self, change: CraftChange) -> ChangeText:
        return ChangeText(self.what(change), self.states(change), self.case(change))

    def what(self, change: CraftChange) -> str:
        subject = plain(change.subject)
        before, now = (self.output_words(change, given) for given in (change.before, change.now))
        if change.kind == "written":
            return _written_change(subject, change.before, change.now)
        if change.kind == "output":
            return f"{subject}: {before} before, {now} now{_deciders(change)}"
        name, was = SPOKEN.get(change.kind) or f"{change.kind} {subject}", THEN.get(before, before)
        if change.before is None:
            return f"{name} is new; it {now}"
        return f"{name} is gone; it {was}" if change.now is None else f"{name}: {was} before, {now} now"

    def output_words(self, change: CraftChange, given: SideValue) -> str:
        if isinstance(given, Fraction):
            return motor_output(self.values, given) if change.motor else percent(given)
        return "" if given is None else plain(given)

    def states(self, change: CraftChange) -> str:
        if change.kind == "written" or self.comparison.controls is None:
            return ""
        regions = [self.region_words(region, change, self.comparison.controls) for region in change.where]
        text = "; or ".join(dict.fromkeys(words or "in every state" for words in regions))
        return text if change.whole or not text else f"{text}; and in other states"

    def region_words(self, region: Region, change: CraftChange, setup: Setup) -> str:
        return ", ".join(self._conditions(region, change, setup))

    def _conditions(self, region: Region, change: CraftChange, setup: Setup) -> Iterator[str]:
        for switch, places in region.positions.items():
            order = [p for p in setup.switches[switch].positions if p in places]
            yield " or ".join((self.controls.kept(switch, order[0]), *map(plain, order[1:])))
        stretches = dict(change.sticks or {})
        for name, interval in region.between.items():
            if name in stretches:
                stretches[name] = tuple(stretches_within(stretches[name], interval))
            else:
                yield from self._interval_words(name, interval, setup)
        for name, found in stretches.items():
            if found and found != ((Fraction(-100), Fraction(100)),):
                yield f"{plain(name)} {' or '.join(map(stretch_words, found))}"
        yield from (f"{plain(name)} lost" for name in sorted(region.lost))
        yield from _memory_words(region.remembered)
        if region.off:
            yield "the receiver not heard"

    def _interval_words(self, name: str, interval: ValueRange, setup: Setup) -> Iterator[str]:
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
            steps = [case_text.move_words(step, self.controls, first=n == 0) for n, step in enumerate(change.steps)]
            text = "; ".join(f"{n}. {step}" for n, step in enumerate(steps, start=1))
        else:
            text = case_text.standing_words(change.witness, self.controls)
        assumed = f", taking it that {'; '.join(map(plain, change.assumed))}" if change.assumed else ""
        return f"{text}{assumed}"


def _memory_words(remembered: Mapping[str, bool]) -> Iterator[str]:
    """Latches and toggles that are on or off; with before or now where they differ in the two files."""
    names = [name.partition(" ")[2] for name in remembered]
    for name, on in remembered.items():
        side, _, own = name.partition(" ")
        when = {"old": " before", "new": " now"}[side] if names.count(own) > 1 else ""
        yield f"{plain(own)} {'on' if on else 'off'}{when}"


def _deciders(change: CraftChange) -> str:
    """Who decides, if an override does. For a channel's lines in modes the states say enough."""
    was, now = (who if who.startswith("override ") else "its own line" for who in (change.was_by, change.by))
    if was == now:
        return f" ({plain(now)})" if now == change.by else ""
    return f" ({plain(was)} before, {plain(now)} now)"


def _written_change(subject: str, before: SideValue, now: SideValue) -> str:
    if before == "there" and now is None:
        return f"{subject} is gone"
    if now == "there" and before is None:
        return f"{subject} is new"
    return f"{subject}: {_given_number(before)} before, {_given_number(now)} now"


def _given_number(given: SideValue) -> str:
    if isinstance(given, Fraction):
        return decimal(given, 6)
    return "not given" if given is None else plain(given)


Stretch = tuple[Fraction, Fraction]


def stretches_within(stretches: tuple[Stretch, ...], interval: ValueRange) -> Iterator[Stretch]:
    """The stretches, cut to an interval."""
    for lo, hi in stretches:
        low, high = max(lo, interval.lo), min(hi, interval.hi)
        if low < high or (low == high and lo == hi):
            yield low, high


def stretch_words(interval: Stretch) -> str:
    lo, hi = interval
    if lo == hi:
        return f"at {signed(lo)}{FIXED_SPACE}%"
    return f"from {signed(lo)} to {signed(hi)}{FIXED_SPACE}%"


def proved_same(comparison: Comparison) -> list[str]:
    """What is proved to be the same in every state."""
    counts = comparison.same or {}
    return [SAME[kind].format(count, s="" if count == 1 else "s") for kind, count in counts.items()]


def joint_controls(old: Mapping[str, object], new: Mapping[str, object]) -> dict[str, object]:
    """The controls of both files by the names that witnesses use; all else from the new file."""
    found = dict(new)
    for table in ("switches", "sensors"):
        tables = [each for each in (old.get(table), new.get(table)) if isinstance(each, Mapping)]
        found[table] = {name: part for each in tables for name, part in each.items()}
    return found
