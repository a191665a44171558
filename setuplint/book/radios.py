"""Setups of one radio: whether the same movement of the same switch calls hold, rescue and modes in all of them.

Of its neighbours a lint needs no more than their records; `habits` makes of them what is usual on each radio.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from setuplint.dataclass import dataclass, field_names
from setuplint.engine.answers import FOUND, NOT_DECIDED
from setuplint.engine.decider import Decider
from setuplint.findings import Place
from setuplint.hints import TYPE_CHECKING, Any
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import Path, Setup
from setuplint.setup.reads import Reads

if TYPE_CHECKING:
    from setuplint.engine.kept import Known

HOLD = f.Predicate("hold called")
RESCUE = f.Predicate("rescue called")
MOST_MODES = 64  # the first of each setup are compared
MOST_WAYS = 100  # different ways on one radio beyond these cannot become the usual one


@dataclass(frozen=True, slots=True)
class CallingMovement:
    """A movement that calls something: a switch into the position with this index (from 0, which is rest)."""

    switch: str
    place: str | None
    index: int
    position: str

    def same(self, other: CallingMovement) -> bool:
        """The same hand movement: places are compared where both are given, else the names of the switches."""
        if self.index != other.index:
            return False
        if self.place and other.place:
            return self.place == other.place
        return self.switch == other.switch

    @property
    def words(self) -> str:
        where = f", {self.place}" if self.place else ""
        return f"{self.switch} to {self.position} (position {self.index + 1}{where})"


Ways = tuple[CallingMovement, ...]


@dataclass(frozen=True, slots=True)
class RadioRecord:
    """What the neighbours need to know of a setup: which movements call what. `calls` has "rescue", "hold", "mode X"."""

    file: str
    craft: str
    radio: str
    calls: Mapping[str, Ways]


@dataclass(frozen=True, slots=True)
class RadioHabit:
    """How something is called on a radio, the first setup that does it so, and how many do it so or share a movement with it."""

    ways: Ways
    file: str
    craft: str
    count: int


Usual = Mapping[
    str, tuple[RadioHabit, ...]
]  # by what is called: the usual way, and those that share a movement with all before
Habits = Mapping[str, Usual]  # by radio


def record(file: str, setup: Setup, known: Known | None = None) -> RadioRecord | None:
    """None for a setup that names no radio. `known` is what is known of setups of the same content."""
    craft = setup.craft
    if not craft.radio:
        return None
    called = _calls_of(Decider(setup)) if known is None else _known_calls(setup, known)
    return RadioRecord(file, craft.name, craft.radio, called)


def _known_calls(setup: Setup, known: Known) -> dict[str, Ways]:
    """`calls` of a setup, from those of another that has the same where they rest on it."""
    of_cells = known.kept.called.setdefault(known.ground, {})
    for cells, found in of_cells.items():
        if (numbers := known.numbers(cells)) in found:
            return dict(found[numbers])
    reads = Reads()
    made = _calls_of(Decider(setup, reads=reads, known=known))
    if reads.is_kept and not reads.everything:
        cells = frozenset(reads.all_cells())
        of_cells.setdefault(cells, {})[known.numbers(cells)] = made
        known.kept.weight += 1 + len(cells) // 4
    return made


def _calls_of(decider: Decider) -> dict[str, Ways]:
    """`calls` of one that nobody asks after."""
    try:
        return calls(decider)
    finally:
        decider.let_go()


def record_written(record: RadioRecord | None) -> dict[str, Any]:
    """As plain data, but for the file's name; empty where there is none."""
    if record is None:
        return {}
    ways = {
        what: [{name: getattr(way, name) for name in field_names(way)} for way in ways]
        for what, ways in record.calls.items()
    }
    return {"craft": record.craft, "radio": record.radio, "calls": ways}


def record_of(data: Mapping[str, Any], file: str) -> RadioRecord | None:
    """What `record_written` made of it."""
    if not data:
        return None
    calls = {what: tuple(CallingMovement(**way) for way in ways) for what, ways in data["calls"].items()}
    return RadioRecord(file, data["craft"], data["radio"], calls)


def calls(decider: Decider) -> dict[str, Ways]:
    """Which movements, all other sprung switches released, call what; nothing for what no one movement calls."""
    setup = decider.setup
    wanted: dict[str, tuple[f.Formula, f.Formula]] = {}  # what holds before and after
    neither = f.both(f.Not(HOLD), f.Not(RESCUE))
    if setup.intent.rescue is not None:
        wanted["rescue"] = neither, f.both(RESCUE, f.Not(HOLD))
    if setup.intent.hold is not None:
        wanted["hold"] = f.Not(HOLD), HOLD
    for mode in (f.ModeIs(m) for m in list(setup.modes)[:MOST_MODES] if len(setup.modes) > 1):
        wanted[f"mode {mode.mode}"] = f.both(neither, f.Not(mode)), f.both(neither, mode)
    released = {name: others_released(decider, name) for name in setup.switches}
    found: dict[str, Ways] = {}
    for what, (before, after) in wanted.items():
        ways = []
        for (name, position), verdict in decider.movement_verdicts(before, after, released):
            if verdict == NOT_DECIDED:  # which hangs on what else was asked
                decider.reads.is_kept = False
            if verdict == FOUND:
                switch = setup.switches[name]
                ways.append(
                    CallingMovement(name, place_words(switch.place), switch.positions.index(position), position)
                )
        if ways:
            found[what] = tuple(ways)
    return found


def others_released(decider: Decider, moved: str) -> f.Formula:
    """Every sprung switch but one is released."""
    sprung = [s for s in decider.setup.switches.values() if s.sprung and s.name != moved]
    return f.both(*(f.SwitchIs(s.name, s.positions[0]) for s in sprung)) if sprung else f.TRUE


def place_words(text: str | None) -> str | None:
    """A place's words, however they are spaced and whatever their case."""
    return " ".join(text.casefold().split()) or None if text else None


def habits(records: Iterable[RadioRecord]) -> Habits:
    """What is usual on each radio: of all ways to call a thing the one that most setups share, the first of equals; and the
    others that share a movement with it and with each other. Whatever else is done differs from one of these."""
    found: dict[str, dict[str, Counter[Ways]]] = {}
    first: dict[tuple[str, str, Ways], RadioRecord] = {}
    for one in records:
        for what, ways in one.calls.items():
            found.setdefault(one.radio, {}).setdefault(what, Counter())[ways] += 1
            first.setdefault((one.radio, what, ways), one)
    usual: dict[str, dict[str, tuple[RadioHabit, ...]]] = {}
    for radio, things in found.items():
        for what, counts in things.items():
            there = ((count, ways, first[radio, what, ways]) for count, ways in agreeing_ways(counts))
            usual.setdefault(radio, {})[what] = tuple(
                RadioHabit(ways, one.file, one.craft, count) for count, ways, one in there
            )
    return usual


def agreeing_ways(counts: Counter[Ways]) -> list[tuple[int, Ways]]:
    """Ways of which each shares a movement with all the others, with how many setups share one with it, the most first."""
    sums = [(sum(n for other, n in counts.items() if share_movement(ways, other)), ways)
            for ways, _ in counts.most_common(MOST_WAYS)]  # fmt: skip
    kept: list[tuple[int, Ways]] = []
    for count, ways in sorted(sums, key=lambda item: -item[0]):
        if all(share_movement(ways, other) for _, other in kept):
            kept.append((count, ways))
    return kept


def share_movement(one: Sequence[CallingMovement], other: Sequence[CallingMovement]) -> bool:
    """Some movement is the same."""
    return any(a.same(b) for a in one for b in other)


class Otherwise(NamedTuple):
    """What a setup calls by other movements than is usual on its radio."""

    subject: str
    message: str
    path: Path
    related: tuple[Place, ...]


def otherwise(called: Mapping[str, Ways], radio: str, usual: Usual) -> Iterator[Otherwise]:
    """By what a setup of a radio calls, and by what is usual on it."""
    for what, ways in called.items():
        habit = next((habit for habit in usual.get(what, ()) if not share_movement(ways, habit.ways)), None)
        if habit is None:
            continue
        more = f" and {habit.count - 1} more" if habit.count > 1 else ""
        kind, _, mode = what.partition(" ")
        path: Path = ("modes", mode) if mode else ("intent", kind)
        thing = what if mode else "the throttle hold" if what == "hold" else "the rescue"
        yield Otherwise(
            what,
            f"on radio {radio}, {thing} is called by {movement_words(ways)} here, and by {movement_words(habit.ways)} in "
            f"{habit.craft} ({habit.file}){more}",
            path,
            (
                Place(("craft", "radio"), "setups with this radio are compared"),
                *(Place(("switches", name), "calls it here") for name in dict.fromkeys(w.switch for w in ways)),
            ),
        )


def movement_words(ways: Sequence[CallingMovement]) -> str:
    return " or ".join(w.words for w in ways)
