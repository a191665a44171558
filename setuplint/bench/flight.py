"""What is done in flight, shown on the bench: the hold, the modes, the rescue, memory, and the other overrides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial

from setuplint.bench import items, proof, stick_positions
from setuplint.bench.card_model import CardStep, Item, Row
from setuplint.bench.items import LOW, NO_HOLD, NO_RESCUE, RESCUE, SPRUNG, at, in_mode
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan, Route, anew, arrive, awake
from setuplint.bench.step_plans import calm, ends, looks
from setuplint.bench.walk import Walk
from setuplint.engine.answers import Case, Value
from setuplint.setup import formulas as f

MIDDLE = at("throttle", Fraction(0))
MOST_PAIRS = 60  # of modes and overrides: beyond, an override is met by the hold in one mode only


# -- the hold


def hold(make: Maker) -> None:
    """It stops the motor in every mode at full stick, and against every override that drives it."""
    setup = make.setup
    if setup.intent.hold is None or not items.motors(setup):
        return
    against = items.drivers(setup)
    every = len(against) * len(items.modes(setup)) <= MOST_PAIRS
    plans = []
    for mode in items.modes(setup):
        aims = [items.hold_in(setup, mode)]
        aims += [items.hold_against(setup, mode, o) for o in against if every or make.fresh("hold-against", o.name)]
        ways = [(item, make.seek(*(f.both(item.formula, *wish) for wish in ((SPRUNG,), ())))[0]) for item in aims]
        found = [(item, way) for item, way in ways if way is not None]
        make.need(*(item for item, _ in found))
        if found:
            plans.append(looks(make, "hold", mode, found))
    if setup.intent.rescue is not None:
        way, _ = make.seek(items.RESCUE_HELD.formula)
        if way is not None:
            make.need(items.RESCUE_HELD)
            plans.append(make.plan("rescue-held", "", [items.RESCUE_HELD], way))
    make.stage("hold", plans)


# -- the modes


def flight_modes(make: Maker, sweeps: Sequence[items.Sweep]) -> None:
    """Each mode along the stick; then the lines and values that no step has shown yet."""
    setup = make.setup
    plans: list[Plan] = []
    for mode in items.modes(setup):
        plans += _mode(make, mode)
    lines = [sweep for sweep in sweeps if sweep.stick in ("", "throttle")]
    for sweep in lines:
        if not make.open(*sweep.items):
            continue
        if sweep.stick:
            plans += ends(make, sweep)
            continue
        way, answer = make.seek(*calm(make, sweep.given))
        if way is not None:
            plans.append(make.plan("line", sweep.items[0].subject, sweep.items, way))
        elif sweep.items[0].kind == "line":
            make.unmet(sweep.items, answer)
        else:
            make.drop(sweep.items)
    make.stage("modes", plans)
    if make.stages[-1].key == "modes":
        make.stages[-1] = replace(make.stages[-1], steps=tuple(least(make, step) for step in make.stages[-1].steps))


def mode_items(make: Maker, mode: str) -> list[Item]:
    """The mode along the stick; in a mode of the hold's or the rescue's own, that it is flown."""
    found = [item for item in items.mode_items(make.setup, mode) if make.decider.find(item.formula).found]
    return found or [Item("mode", mode, formula=in_mode(make.setup, [mode]))]


def _mode(make: Maker, mode: str) -> Iterator[Plan]:
    setup = make.setup
    own = in_mode(setup, [mode])
    aims = mode_items(make, mode)
    way, answer = make.seek(*(f.both(own, NO_HOLD, NO_RESCUE, LOW, *wish) for wish in ((SPRUNG,), ())))
    if way is None:
        way, answer = make.seek(*calm(make, own))
    if way is None:
        make.unmet(aims, answer)
        return
    if len(aims) == 1:
        yield make.plan("mode", mode, aims, way)
        return
    then: list[dict[str, Value]] = [{"throttle": place} for place in stick_positions.on_throttle(setup, mode)[1:]]
    swept = make.plan("mode", mode, aims, way, *then)
    ways = [(item, make.seek(item.formula)[0]) for item in aims]
    apart = looks(make, "mode", mode, [(item, each) for item, each in ways if each is not None])

    def rows(walk: Walk) -> list[Row] | None:
        """Along the stick; to each place in its own way, where the stick changes more than the outputs."""
        trial = walk.copy()
        found = swept.rows(trial)
        if found and len(proof.shown(setup, found, aims)) == len(aims):
            walk.become(trial)
            return found
        return apart.rows(walk)

    yield replace(swept, rows=rows)


def least(make: Maker, step: CardStep) -> CardStep:
    """With the least that a motor gives in an idle-up mode, hold and rescue off: over every state, by the engine."""
    if step.key != "mode" or step.subject not in make.setup.modes or not make.setup.modes[step.subject].idle_up:
        return step
    given = f.both(f.ModeIs(step.subject), NO_HOLD, NO_RESCUE)
    ranges = {c.name: make.decider.output_range(c.name, given).least for c in items.motors(make.setup)}
    return replace(step, least={name: value for name, value in ranges.items() if value is not None})


# -- the rescue


def rescue(make: Maker) -> None:
    """In and out from every mode; in the hold it was called before."""
    setup = make.setup
    if setup.intent.rescue is None:
        return
    plans = []
    for mode in items.modes(setup):
        into = items.rescue_in(setup, mode)
        assert into.came is not None
        answer = make.decider.find_movement(f.both(into.came, MIDDLE, awake(setup)), into.formula)
        if answer.found and answer.case is not None:
            back = items.rescue_out(setup, mode)
            if not make.decider.find_movement(RESCUE, back.formula).found:
                back = items.rescue_over(mode)
            make.need(into, back)
            plans.append(_rescue(make, mode, back, answer.case))
    make.stage("rescue", plans)


def _rescue(make: Maker, mode: str, out: Item, case: Case) -> Plan:
    into = items.rescue_in(make.setup, mode)
    way = Route(f.both(into.came or f.TRUE, MIDDLE), case)
    assert case.movement is not None
    switch, position = case.movement
    home = case.state.positions[switch]
    leave = make.decider.movements([RESCUE])

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, way, exactly=True):
            return None
        found = [walk.look()]
        walk.set(switch, position)
        found.append(walk.look())
        for movements in ([(switch, home)], *([(switch, home), movement] for movement in leave)):
            trial = walk.copy()
            for control, where in movements:
                trial.set(control, where)
            if trial.holds(out.formula) and trial.moves:
                walk.become(trial)
                break
        found.append(walk.look())
        return found

    return Plan("rescue", mode, (into, out), rows, way.wants(make.setup))


# -- memory


def memory(make: Maker) -> None:
    """Latches and toggles: on, kept when what set them is over, and off again."""
    setup = make.setup
    plans = []
    for condition in setup.conditions.values():
        if not condition.remembers:
            continue
        keeps, forgets = items.remembering(condition)
        way, answer = make.seek(*calm(make, keeps.formula))
        if way is None:
            make.unmet([keeps], answer)
            on, _ = make.seek(*calm(make, f.Holds(condition.name)))
            way = on
        if way is None:
            make.unmet([forgets], answer)
            continue
        on_now = f.both(f.Holds(condition.name), awake(setup))
        off = make.decider.find_movement(on_now, f.Not(f.Holds(condition.name)))
        aims = [keeps] if answer.found else []
        if off.found and off.case is not None:
            plans.append(_forgets(make, condition.name, [*aims, forgets], way, off.case))
        else:
            make.unmet([forgets], off)
            plans.append(make.plan("memory", condition.name, aims or [forgets], way))
    make.stage("memory", plans)


def _forgets(make: Maker, name: str, aims: list[Item], way: Route, off: Case) -> Plan:
    """By the movement that the engine found, from here if it does it, else from the state that it found."""
    on = f.Holds(name)
    assert off.movement is not None
    movement = off.movement
    more = make.decider.movements([on])

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, way):
            return None
        found = [walk.look()]
        for first, last in [(None, movement), *((None, each) for each in more), *((each, movement) for each in more)]:
            trial = walk.copy()
            if first is not None:
                trial.set(*first)
            if trial.holds(on):
                trial.set(*last)
                if not trial.holds(on):
                    walk.become(trial)
                    return [*found, walk.look()]
        for go in (partial(arrive, way=Route(on, off), exactly=True), partial(anew, case=off, formula=on)):
            trial = walk.copy()
            if go(trial):
                trial.set(*movement)
                if not trial.holds(on):
                    walk.become(trial)
                    return [*found, walk.look()]
        return found

    return Plan("memory", name, tuple(aims), rows, way.wants(make.setup), (*way.case.assumed, *off.assumed))


# -- what is left of the overrides


def others(make: Maker) -> None:
    plans = []
    for item in [item for item in make.items.values() if item.kind == "override" and make.open(item)]:
        way, answer = make.seek(*calm(make, item.formula))
        if way is None:
            make.unmet([item], answer)
        else:
            plans.append(make.plan("override", item.subject, [item], way))
    make.stage("overrides", plans)
