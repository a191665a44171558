"""Before anything could fly: the transmitter alone, and the receiver with the motor apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from setuplint.bench import card_model, items
from setuplint.bench.card_model import Item, Move, Row
from setuplint.bench.items import LOW, NO_HOLD, NO_RESCUE, SPRUNG, at, in_mode
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan, arrive
from setuplint.bench.step_plans import ends, looks
from setuplint.bench.walk import Walk, starts
from setuplint.engine.answers import Value
from setuplint.engine.decider import Decider
from setuplint.setup import formulas as f


def power_up(make: Maker) -> None:
    """It starts with all as it must be, and refuses each way not to meet the start check."""
    setup, walk, home = make.setup, make.walk, make.home
    make.need(items.STARTS)
    steps = []
    home.whole(walk)
    if starts(setup, walk.state):
        walk.switch_on()
        row = walk.look(card_model.STARTS)
        walk.switch_off()
        steps.append(make.made("starts", "", [row], _taken(walk), [items.STARTS]))
    else:
        walk.moves = []
        make.leave([items.STARTS], "no state of the controls meets the start check")
    free = Decider(replace(setup, start=None)) if setup.start is not None else None
    for item, wishes in items.ways(setup):
        answers = (free.find(wish, at_power_up=True) for wish in wishes) if free is not None else iter(())
        case = next((answer.case for answer in answers if answer.found), None)
        if case is None:
            continue
        wanted = {n: v for n, v in case.matters.items() if n in setup.switches or n in setup.sticks}
        if not _refuses(make, item, wanted):
            wanted = {**case.state.positions, **case.state.sticks}
        walk.set_all(wanted)
        walk.switch_on()
        rows = [walk.look(card_model.REFUSED)]
        walk.switch_off()
        home.whole(walk)
        make.need(item)
        steps.append(make.made("refused", item.subject, rows, _taken(walk), [item]))
    make.add("transmitter", steps)


def _refuses(make: Maker, item: Item, wanted: dict[str, Value]) -> bool:
    trial = make.walk.copy()
    trial.set_all(wanted)
    trial.switch_on()
    return trial.holds(item.formula) and not starts(make.setup, trial.state)


def _taken(walk: Walk) -> tuple[Move, ...]:
    moves, walk.moves = tuple(walk.moves), []
    return moves


# -- the receiver, the motor apart


def receiver(make: Maker, sweeps: Sequence[items.Sweep]) -> None:
    walk = make.walk
    make.need(items.RECEIVER)

    def first(trial: Walk) -> list[Row]:
        trial.switch_on()
        trial.power_receiver()
        return [trial.look()]

    rows = first(walk)
    first_step = make.made("receiver", "", rows, (), [items.RECEIVER])
    plans = [*_ends(make, [s for s in sweeps if s.stick and s.stick != "throttle"]), *_stops(make)]
    make.stage("receiver", plans)
    if make.stages and make.stages[-1].key == "receiver":
        stage = make.stages.pop()
        make.add("receiver", [first_step, *stage.steps])
    else:
        make.add("receiver", [first_step])


def _ends(make: Maker, sweeps: Sequence[items.Sweep]) -> Iterator[Plan]:
    """A stick or knob to both ends, for every line and rate that reads it."""
    for sweep in sweeps:
        yield from ends(make, sweep)


def _stops(make: Maker) -> Iterator[Plan]:
    """The motor's stop at the bottom of the stick, with trims and knobs at their ends."""
    setup = make.setup
    seen: set[str] = set()
    for channel in items.motors(setup):
        for mode in items.modes(setup):
            if mode and setup.modes[mode].idle_up:
                continue
            line = channel.line(mode or None)
            sticks = [
                setup.sticks[t.source] for t in line.terms or () if isinstance(t.source, str) and t.kind == "stick"
            ]
            for stick in sticks:
                amount = Fraction(100) if stick.knob else stick.trim or Fraction(0)
                if not amount or f"{stick.name} {line}" in seen:
                    continue
                seen.add(f"{stick.name} {line}")
                yield from _stop(make, channel.name, mode, stick.name, amount, knob=stick.knob)


def _stop(make: Maker, channel: str, mode: str, stick: str, amount: Fraction, *, knob: bool) -> Iterator[Plan]:
    given = f.both(in_mode(make.setup, [mode]), f.Decides(channel, None), NO_HOLD, NO_RESCUE, SPRUNG, LOW)
    way, _ = make.seek(given)
    if way is None:
        return
    name = f"{channel} in {mode}" if mode else channel
    ends = (amount, -amount)
    aims = [
        Item(
            "stop",
            name,
            f"{stick} {value}",
            f.both(given, at(stick, value)) if knob else given,
            trim={} if knob else {stick: value},
        )
        for value in ends
    ]
    if knob:
        ways = [(aim, make.seek(aim.formula)[0]) for aim in aims]
        found = [(aim, each) for aim, each in ways if each is not None]
        if found:
            make.need(*(aim for aim, _ in found))
            yield looks(make, "stop", stick, found)
        return
    make.need(*aims)

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, way):
            return None
        found = []
        for value in ends:
            walk.trim(stick, value)
            found.append(walk.look())
        return found

    yield Plan("stop", stick, tuple(aims), rows, way.wants(make.setup))
