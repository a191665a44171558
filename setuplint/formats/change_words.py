"""What two setups do differently, in a pilot's words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.comparison.changes import Comparison, CraftChange, SideValue
from setuplint.comparison.regions import Region, ValueRange, full_range
from setuplint.formats import case_text
from setuplint.formats.control_words import ControlWords, with_unit
from setuplint.formats.numbers import decimal, motor_output, percent, signed
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.named_tuple import NamedTuple
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
    """One change: what it is; along a stick the largest rise and fall and the hover; in which states; and a case to try on the
    bench. All but the first may be empty."""

    what: str
    along: tuple[tuple[str, str], ...]
    where: str
    bench: str

    @property
    def details(self) -> list[tuple[str, str]]:
        """Each with its label."""
        return [*self.along, *((label, text) for label, text in (("where", self.where), ("try", self.bench)) if text)]


class ChangeWords:
    """The changes of one comparison in words. `values` are the controls of both files."""

    def __init__(self, comparison: Comparison, values: Mapping[str, object]) -> None:
        self.comparison, self.values, self.controls = comparison, values, ControlWords(values)

    def text_of(self, change: CraftChange) -> ChangeText:
        return ChangeText(self.what(change), tuple(self.along(change)), self.states(change), self.case(change))

    def what(self, change: CraftChange) -> str:
        subject = plain(change.subject)
        before, now = (self.output_words(change, given) for given in (change.before, change.now))
        if change.kind == "written":
            return self._written_change(subject, change)
        if change.kind == "output":
            most = " and ".join(_points(change))
            if most:
                return f"{subject}{_in_modes(change)}: {most}{_deciders(change)}"
            return f"{subject}: {before} before, {now} now{_deciders(change)}"
        name, was = SPOKEN.get(change.kind) or f"{change.kind} {subject}", THEN.get(before, before)
        if change.before is None:
            return f"{name} is new; it {now}"
        return f"{name} is gone; it {was}" if change.now is None else f"{name}: {was} before, {now} now"

    def along(self, change: CraftChange) -> Iterator[tuple[str, str]]:
        """What the channel puts out where it is furthest from what it was, and in the hover."""
        for label, at in (("rise", change.rise), ("fall", change.fall), ("hover", change.hover)):
            if at is not None and at.sticks:
                before, now = (self.output_words(change, given) for given in (at.before, at.now))
                place = " and ".join(f"{plain(name)} at {percent(x)}" for name, x in at.sticks.items())
                yield (
                    label,
                    f"{before} before, {now} now, with {place}" if before != now else f"{now} as before, with {place}",
                )

    def output_words(self, change: CraftChange, given: SideValue) -> str:
        if isinstance(given, Fraction):
            return motor_output(self.values, given) if change.drives == "motor" else percent(given)
        return "" if given is None else plain(given)

    def _written_change(self, subject: str, change: CraftChange) -> str:
        if change.before == "there" and change.now is None:
            return f"{subject} is gone"
        if change.now == "there" and change.before is None:
            return f"{subject} is new"
        before, now = (self._given_number(change, given) for given in (change.before, change.now))
        return f"{subject}: {before} before, {now} now"

    def _given_number(self, change: CraftChange, given: SideValue) -> str:
        if isinstance(given, Fraction):
            return motor_output(self.values, given) if change.drives == "motor" else decimal(given, 6)
        return "not given" if given is None else plain(given)

    def states(self, change: CraftChange) -> str:
        if change.kind == "written" or self.comparison.controls is None:
            return ""
        regions = [", ".join(self._conditions(each, change, self.comparison.controls)) for each in change.where]
        text = "; or ".join(dict.fromkeys(words or "in every state" for words in regions))
        return text if change.whole or not text else f"{text}; and in other states"

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
            if found and tuple(found) != ((Fraction(-100), Fraction(100)),):
                yield f"{plain(name)} {' or '.join(stretch_words(found))}"
        if change.hangs_on:
            yield f"depending on {' and '.join(map(plain, change.hangs_on))}"
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
            steps = case_text.step_words(change.steps, self.controls, change.at)
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


def _in_modes(change: CraftChange) -> str:
    """The modes whose lines it is about: ` in normal`, ` in training (idle-up before)`."""
    named = (who.removesuffix(" and no mode") for who in (change.was_by, change.by))
    was, now = (who.partition(" ")[2] if who.startswith("mode") else "" for who in named)
    before = f" ({plain(was)} before)" if was and now and was != now else ""
    return f" in {plain(now)}{before}" if now else ""


Stretch = tuple[Fraction, Fraction]


def stretches_within(stretches: tuple[Stretch, ...], interval: ValueRange) -> Iterator[Stretch]:
    """The stretches, cut to an interval."""
    for lo, hi in stretches:
        low, high = max(lo, interval.lo), min(hi, interval.hi)
        if low < high or (low == high and lo == hi):
            yield low, high


def stretch_words(stretches: Sequence[Stretch]) -> Iterator[str]:
    """Stretches in words; between two that touch is a place that belongs to neither."""
    left = list(stretches)
    while left:
        run = [left.pop(0)]
        while left and left[0][0] == run[-1][1] and run[-1][0] < run[-1][1]:
            run.append(left.pop(0))
        lo, hi = run[0][0], run[-1][1]
        whole = (lo, hi) == (Fraction(-100), Fraction(100))
        words = f"at {percent(lo)}" if lo == hi else "anywhere" if whole else f"from {signed(lo)} to {percent(hi)}"
        but = [percent(end) for _, end in run[:-1]]
        yield f"{words} but at {' and '.join(but)}" if but else words


def _points(change: CraftChange) -> Iterator[str]:
    """How far it goes, up and down: at most where that hangs on one stick, at least where on several."""
    for word, at in (("higher", change.rise), ("lower", change.fall)):
        if at is not None and at.sticks:
            by, far = abs(at.now - at.before), "up to" if change.sticks else "at least"
            yield f"{far} {decimal(by)} point{'' if by == 1 else 's'} {word}{'' if change.sticks else ' in places'}"


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
