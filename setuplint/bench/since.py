"""The boxes of a card that a change touches: those that read otherwise by the set-up before it, and what it took away."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from setuplint.bench import card_model, missing, proof
from setuplint.bench.box_marks import box_mark, mark_beside
from setuplint.bench.card_model import Card, CardStep, Item, Row, Stage
from setuplint.bench.elsewhere import PluggedElsewhere
from setuplint.bench.walk import Walk, hold_switches, power_up_kind
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Value
from setuplint.plain.settings import Impossible
from setuplint.plain.state import UNHEARD, State
from setuplint.setup.model import Setup

BY_HAND = {  # a stage without readings is touched where a channel is that drives one of these
    "corrections": {"stabiliser", "gyro-gain", "aileron", "elevator", "rudder"},
    "motor": {"motor"},
    "hover": {"hover"},
}
UNCHANGING = ("receiver", "connected", "still", "range")  # which every card has of its own
FIRST = ("ready", "receiver")  # boxes without which no other can be done
MOST_GONE = 30  # boxes of the old card
PARTS = ("switches", "sensors", "conditions", "modes", "curves", "channels", "overrides", "alarms", "timers")


@dataclass(frozen=True, slots=True)
class CardSince:
    """`card` has the touched boxes under their numbers, and after them what shows that something is gone. `same` are the
    numbers of those left out, `undoable` of boxes of the old card that cannot be done any more, `parts` what differs in the
    file, by name; `unshown` counts boxes of the old card that read otherwise now and have no place here."""

    card: Card
    same: tuple[int, ...]
    undoable: tuple[int, ...]
    parts: tuple[str, ...]
    unshown: int = 0


@dataclass(frozen=True, slots=True)
class Gone:
    """A box of the old card that reads otherwise now, in states that no box of the new one reads; where the controls stand as it
    begins, and the channels that differ."""

    step: CardStep
    start: State
    channels: frozenset[str]


def card_since(card: Card, old: Card) -> CardSince:
    """What of a card, compared with that of the set-up before a change."""
    touched, channels = _touched(card, old.setup)
    gone, undoable = _taken_away(card, old)
    channels |= {name for each in gone for name in each.channels}
    drives = {each.drives for each in card.setup.channels.values() if each.name in channels}
    drives |= _measured(card.setup, old.setup)
    by_hand = {step.number for stage in card.stages if drives & BY_HAND.get(stage.key, set()) for step in stage.steps}
    kept = touched | by_hand
    if kept or gone:
        kept |= {step.number for step in card.steps if step.key in FIRST}
    kept |= set(_setters(card.steps, kept))
    stages = _Again(card).stages(kept, gone[:MOST_GONE])
    shown = {item.key for stage in stages for step in stage.steps for item in step.shows}
    made = replace(card, stages=stages, items=tuple(item for item in card.items if item.key in shown), left=())
    same = tuple(step.number for step in card.steps if step.number not in kept)
    return CardSince(made, same, undoable, tuple(_changed_parts(card.setup, old.setup)), max(0, len(gone) - MOST_GONE))


def _measured(new: Setup, old: Setup) -> set[str]:
    """What is measured again, by what it is measured of."""
    found = set[str]()
    if (new.craft.motor_off, new.craft.rotor_free) != (old.craft.motor_off, old.craft.rotor_free):
        found.add("motor")
    if [_line_words(new, drives) for drives in HOVERED] != [_line_words(old, drives) for drives in HOVERED]:
        found.add("hover")
    if _stopped_by(new) != _stopped_by(old):
        found.add("motor")
    return found


def _stopped_by(setup: Setup) -> object:
    """What calls hold and stop, and the switches that hold hangs on."""
    return setup.intent.hold, setup.intent.stop, [setup.switches[name] for name in sorted(hold_switches(setup))]


HOVERED = ("motor", "collective")


def _line_words(setup: Setup, drives: str) -> list[str]:
    """All lines of such channels with the curves that they go through."""
    return [
        repr((line, [setup.curves[term.curve] for term in line.terms or () if term.curve]))
        for channel in setup.channels.values()
        if channel.drives == drives
        for line in channel.every_line
    ]


def _changed_parts(new: Setup, old: Setup) -> Iterator[str]:
    for table in PARTS:
        here, there = getattr(new, table), getattr(old, table)
        yield from (f"{table}.{name}" for name in here | there if here.get(name) != there.get(name))
    for table in ("craft", "failsafe", "intent", "trainer", "sticks", "swash"):
        if getattr(new, table) != getattr(old, table):
            yield table
    if (new.start, new.start_warns) != (old.start, old.start_warns):
        yield "start"


def _setters(steps: Sequence[CardStep], kept: set[int]) -> Iterator[int]:
    """Boxes before a kept one that finds a latch or toggle on: back to where it was switched on."""
    made = [step for step in steps if step.rows]
    for place in range(len(made) - 1, 0, -1):
        if made[place].kept and (made[place].number in kept):
            kept = kept | {made[place - 1].number}
            yield made[place - 1].number


# -- both set-ups, box by box


def _touched(card: Card, old: Setup) -> tuple[set[int], set[str]]:
    """The boxes that read otherwise by the old set-up, or of something else, and the channels that do."""
    there, elsewhere, found = Walk(old), PluggedElsewhere(card, old), set[int]()
    channels = set(elsewhere.channels)
    for step in card.steps:
        differing = [names for names in _differences(step, there, card.setup) if names is not None]
        if differing or elsewhere.touches(step):
            found.add(step.number)
        channels |= {name for names in differing for name in names}
        for move in step.back:
            there.do(move)
        there.take_moves()
    return found, channels


def _taken_away(card: Card, old: Card) -> tuple[list[Gone], tuple[int, ...]]:
    """What the old card shows and is no more; and the numbers of its boxes that cannot be done any more."""
    here, found, undoable = Walk(card.setup), list[Gone](), list[int]()
    read = [(row.kind, row.state) for step in card.steps for row in step.rows]
    for step in old.steps:
        start = here.state
        controls = {move.control for row in step.rows for move in row.moves if move.control}
        if not controls <= _controls(card.setup):
            undoable.append(step.number)
            continue
        rows = zip(step.rows, _differences(step, here, old.setup), strict=True)
        differing = [names for row, names in rows if names is not None and (row.kind, row.state) not in read]
        if differing and step.key not in UNCHANGING:
            known = {name for names in differing for name in names if name in card.setup.channels}
            found.append(Gone(step, start, frozenset(known)))
        for move in step.back:
            here.do(move)
        here.take_moves()
    return found, tuple(undoable)


def _controls(setup: Setup) -> set[str]:
    return {*setup.switches, *setup.sticks, *setup.sensors}


def _differences(step: CardStep, walk: Walk, mine: Setup) -> Iterator[set[str] | None]:
    """For each row the channels that read otherwise on the walk than it says; None where nothing does, or sounds otherwise."""
    for row in step.rows:
        try:
            for move in row.moves:
                walk.do(move)
            differs, names = _row_differs(row, walk, mine)
        except (Impossible, KeyError):
            differs, names = True, set[str]()
        yield names if differs else None


def _row_differs(row: Row, walk: Walk, mine: Setup) -> tuple[bool, set[str]]:
    if row.kind in card_model.POWER_UP:
        return power_up_kind(walk.setup, walk.state) != row.kind, set()
    seen = walk.look(row.kind)
    names = {n for n in row.readings.keys() | seen.readings.keys() if row.readings.get(n) != seen.readings.get(n)}
    if row.kind == card_model.GONE:
        return bool(names), names
    here = missing.heard(mine, row.state, row.memory), missing.announced(mine, row.start, row.state, row.memory)
    there = (
        missing.heard(walk.setup, seen.state, seen.memory),
        missing.announced(walk.setup, seen.start, seen.state, seen.memory),
    )
    return bool(names) or here != there or row.timers != seen.timers, names


# -- the boxes that are left, done one after the other


class _Again:
    """The kept boxes of a card, with the movements that lead from each to the next."""

    def __init__(self, card: Card) -> None:
        self.card = card
        self.full, self.walk = Walk(card.setup), Walk(card.setup)
        self.number = max((step.number for step in card.steps), default=0)

    def stages(self, kept: set[int], gone: Sequence[Gone]) -> tuple[Stage, ...]:
        found: list[Stage] = []
        for stage in self.card.stages:
            places = {"transmitter": True, "range": False}
            steps = [*self._gone(found, gone, places[stage.key])] if stage.key in places else []
            found += [Stage("gone", tuple(steps))] if steps else []
            steps = []
            for step in stage.steps:
                if step.number in kept:
                    self._meet(found, steps)
                    steps.append(self._done(step))
                _do_all(self.full, step)
            found += [Stage(stage.key, tuple(steps))] if steps else []
        if self.walk.on and found:
            self._end(found, [])
        return tuple(found)

    def _gone(self, found: list[Stage], gone: Sequence[Gone], at_start: bool) -> Iterator[CardStep]:
        """The boxes of what is gone: those of the start check before the receiver has power, the others after all others."""
        for each in gone:
            if any(row.kind in card_model.POWER_UP for row in each.step.rows) != at_start:
                continue
            self._meet(found, [])
            self.walk.set_all({**each.start.positions, **each.start.sticks})
            self.number += 1
            items = tuple(Item("gone-part", item.subject) for item in each.step.shows[:1])
            made = self._done(replace(each.step, key="was", number=self.number, again=False, kept=(), least={}))
            self.walk.set_all(self.home)
            yield replace(made, shows=items, back=(*made.back, *self.walk.take_moves()))

    @property
    def home(self) -> dict[str, Value]:
        return {**self.card.home.positions, **self.card.home.sticks}

    def _meet(self, found: list[Stage], steps: list[CardStep]) -> None:
        """Bring the walk to where the whole card is by now. Power goes off with the box before."""
        walk, state = self.walk, self.full.state
        if walk.on and not self.full.on:
            self._end(found, steps)
        if self.full.on and not walk.on:
            walk.set_all(self.home)
            walk.switch_on()
        if self.full.powered:
            walk.power_receiver()
        heard = {n: v for n, v in state.readings.items() if v != UNHEARD} if walk.on and walk.powered else {}
        walk.set_all({**state.positions, **state.sticks, **heard})

    def _end(self, found: list[Stage], steps: list[CardStep]) -> None:
        self.walk.take_power()
        self.walk.switch_off()
        moves = self.walk.take_moves()
        last = steps[-1] if steps else found[-1].steps[-1]
        ended = replace(last, back=(*last.back, *moves))
        if steps:
            steps[-1] = ended
        elif found:
            found[-1] = replace(found[-1], steps=(*found[-1].steps[:-1], ended))

    def _done(self, step: CardStep) -> CardStep:
        walk, rows = self.walk, []
        for row in step.rows:
            for move in row.moves:
                walk.do(move)
            kind = power_up_kind(walk.setup, walk.state) if row.kind in card_model.POWER_UP else row.kind
            rows.append(walk.look(kind))
        for move in step.back:
            walk.do(move)
        shows = proof.items_shown(walk.setup, rows, step.shows) if step.key != "was" else step.shows
        # what a record knows it by is that of the whole card
        mark = (
            box_mark(step) if step.key != "was" else mark_beside([step.number, *(item.subject for item in step.shows)])
        )
        return replace(step, rows=tuple(rows), back=walk.take_moves(), shows=tuple(shows), mark=mark)


def _do_all(walk: Walk, step: CardStep) -> None:
    for move in (*(move for row in step.rows for move in row.moves), *step.back):
        walk.do(move)
    walk.take_moves()
