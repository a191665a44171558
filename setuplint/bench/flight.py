"""What is done in flight, shown on the bench: the hold, the modes, the rescue, memory and the other overrides."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

from setuplint.bench import items, proof, stick_positions
from setuplint.bench.card_model import CardStep, Item, Row
from setuplint.bench.items import LOW, MIDDLE, NO_HOLD, NO_RESCUE, RESCUE, SPRUNG, in_mode
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan, Route, arrive, arrive_from_power_up, is_undecided, receiver_on
from setuplint.bench.step_plans import calm_wishes, end_plans, tour_plan
from setuplint.bench.told import is_untold
from setuplint.bench.walk import Walk
from setuplint.dataclass import replace
from setuplint.engine.answers import Case, Value
from setuplint.setup import formulas as f

MOST_PAIRS = 60  # of modes and overrides; beyond it, the hold is tried against an override in one mode only


# -- the hold


def add_hold(make: Maker) -> None:
    """Steps that show the hold stopping the motor: in every mode at full stick, against every override that drives it."""
    setup = make.setup
    if setup.intent.hold is None or not setup.driving("motor"):
        return
    against = items.driving_overrides(setup)
    every = len(against) * len(items.mode_names(setup)) * len(items.stopping_overrides(setup)) <= MOST_PAIRS
    plans = []
    for mode in items.mode_names(setup):
        rivals = [o for o in against if every or not make.required["hold-against", o.name]]
        found = make.routes(items.hold_items(make.missing, mode, rivals))
        make.require(*(item for item, _ in found))
        if found:
            plans.append(tour_plan(make, "hold", mode, found))
    if setup.intent.rescue is not None:
        for _, route in make.routes([(items.RESCUE_HELD, [items.RESCUE_HELD.formula])]):
            make.require(items.RESCUE_HELD)
            plans.append(make.plan("rescue-held", "", [items.RESCUE_HELD], route))
    make.make_stage("hold", plans)


# -- the modes


def add_flight_modes(make: Maker, modes: Mapping[str, list[Item]], sweeps: Sequence[items.Sweep]) -> None:
    """Steps through each mode along the stick, by the items of each, then for the lines and values that no step has shown yet."""
    plans: list[Plan] = []
    for mode, aims in modes.items():
        plans += _mode_plans(make, mode, aims)
    lines = [sweep for sweep in sweeps if sweep.stick in ("", "throttle")]
    for sweep in lines:
        if not make.is_open(*sweep.items):
            continue
        if sweep.stick:
            plans += end_plans(make, sweep)
            continue
        route, answer = make.route_to(sweep.items[0], calm_wishes(make, sweep.given))
        if route is not None:
            plans.append(make.plan("line", sweep.items[0].subject, sweep.items, route))
        elif sweep.items[0].kind == "line" or is_untold(answer):
            make.leave_unmet(sweep.items, answer)
        else:
            make.leave_undecided(sweep.items, answer)
            make.drop(sweep.items)
    plans += _flown_plans(make)
    make.make_stage("modes", plans)
    if make.stages[-1].key == "modes":
        make.stages[-1] = replace(
            make.stages[-1], steps=tuple(with_least_output(make, step) for step in make.stages[-1].steps)
        )


def _flown_plans(make: Maker) -> Iterator[Plan]:
    """Each mode that can be flown, where it is told from the one that would be flown without it, if no step has told it yet."""
    for item in [item for item in make.items.values() if item.kind == "flown" and make.is_open(item)]:
        route, answer = make.route_to(item, calm_wishes(make, item.formula))
        if route is not None:
            yield make.plan("flown", item.subject, [item], route)
        elif is_untold(answer):
            make.leave_unmet([item], answer)
        else:
            make.drop([item])


def reachable_mode_items(make: Maker, mode: str) -> list[Item]:
    """The mode along the stick. For a mode that only the hold or the rescue selects: that it is flown."""
    answers = [(item, make.questions.find(item.formula)) for item in items.mode_items(make.setup, mode)]
    found = [item for item, answer in answers if answer.found or is_undecided(answer)]
    return found or [Item("mode", mode, formula=in_mode(make.setup, [mode]))]


def _mode_plans(make: Maker, mode: str, aims: list[Item]) -> Iterator[Plan]:
    setup = make.setup
    own = in_mode(setup, [mode])
    route, answer = make.route(*(f.both(own, NO_HOLD, NO_RESCUE, LOW, *wish) for wish in ((SPRUNG,), ())))
    if route is None:
        route, answer = make.route(*calm_wishes(make, own))
    if route is None:
        make.leave_unmet(aims, answer)
        return
    if len(aims) == 1:
        yield make.plan("mode", mode, aims, route)
        return
    then: list[dict[str, Value]] = [
        {"throttle": place} for place in stick_positions.throttle_positions(setup, mode)[1:]
    ]
    swept = make.plan("mode", mode, aims, route, *then)
    found = make.routes((item, [item.formula]) for item in aims)
    if not found:
        yield swept
        return
    apart = tour_plan(make, "mode", mode, found)

    def rows(walk: Walk) -> list[Row] | None:
        """Along the stick. By a separate route to each place where the stick changes more than the outputs."""
        trial = walk.copy()
        found = swept.rows(trial)
        if found and len(proof.items_shown(setup, found, aims, walk.work)) == len(aims):
            walk.become(trial)
            return found
        return apart.rows(walk)

    yield replace(swept, rows=rows)


def with_least_output(make: Maker, step: CardStep) -> CardStep:
    """The step with the least output of each motor in an idle-up mode, hold and rescue off, over every state."""
    if step.key != "mode" or step.subject not in make.setup.modes or not make.setup.modes[step.subject].idle_up:
        return step
    given = f.both(f.ModeIs(step.subject), NO_HOLD, NO_RESCUE)
    ranges = {c.name: make.questions.least_output(c.name, given) for c in make.setup.driving("motor")}
    return replace(step, least={name: value for name, value in ranges.items() if value is not None})


# -- the rescue


def add_rescue(make: Maker) -> None:
    """Steps into and out of the rescue from every mode. A rescue called in the hold is shown with the hold."""
    setup = make.setup
    if setup.intent.rescue is None:
        return
    plans = []
    for mode in items.mode_names(setup):
        into = items.rescue_in_item(setup, mode)
        assert into.came is not None
        answer = make.questions.find_movement(f.both(into.came, MIDDLE, receiver_on(setup)), into.formula)
        if answer.found and answer.case is not None:
            back = items.rescue_out_item(mode, items.in_mode(setup, [mode]))
            if not make.questions.find_movement(RESCUE, back.formula).found:
                back = items.rescue_out_item(mode)
            make.require(into, back)
            plans.append(_rescue_plan(make, mode, back, answer.case))
        make.leave_undecided([into], answer)
    make.make_stage("rescue", plans)


def _rescue_plan(make: Maker, mode: str, out: Item, case: Case) -> Plan:
    into = items.rescue_in_item(make.setup, mode)
    route = Route(f.both(into.came or f.TRUE, MIDDLE), case)
    assert case.movement is not None
    switch, position = case.movement
    home = case.state.positions[switch]
    leave = make.questions.movements([RESCUE])

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, route, exactly=True):
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

    return Plan("rescue", mode, (into, out), rows, route.wants(make.home))


# -- memory


def add_memory(make: Maker) -> None:
    """Steps for latches and toggles: on, still on when their cause is gone, and off again."""
    setup = make.setup
    plans = []
    for condition in setup.conditions.values():
        if not condition.remembers:
            continue
        keeps, forgets = items.latch_items(make.missing, condition)
        route, answer = make.route_to(keeps, calm_wishes(make, keeps.formula))
        if route is None:
            make.leave_unmet([keeps], answer)
            on, _ = make.route(*calm_wishes(make, f.Holds(condition.name)))
            route = on
        if route is None:
            make.leave_unmet([forgets], answer)
            continue
        on_now = f.both(f.Holds(condition.name), receiver_on(setup))
        off = make.questions.find_movement(on_now, f.Not(f.Holds(condition.name)))
        aims = [keeps] if answer.found else []
        if off.found and off.case is not None:
            plans.append(_memory_plan(make, condition.name, [*aims, forgets], route, off.case))
        else:
            make.leave_unmet([forgets], off)
            plans.append(make.plan("memory", condition.name, aims or [forgets], route))
    make.make_stage("memory", plans)


def _memory_plan(make: Maker, name: str, aims: list[Item], route: Route, off: Case) -> Plan:
    """The latch goes off by the engine's movement: from where the walk stands if that works, else from the engine's state."""
    on = f.Holds(name)
    assert off.movement is not None
    movement = off.movement
    more = make.questions.movements([on])

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, route):
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
        for go in (
            partial(arrive, route=Route(on, off), exactly=True),
            partial(arrive_from_power_up, case=off, accepts=lambda walk: walk.holds(on)),
        ):
            trial = walk.copy()
            if go(trial):
                trial.set(*movement)
                if not trial.holds(on):
                    walk.become(trial)
                    return [*found, walk.look()]
        return found

    return Plan("memory", name, tuple(aims), rows, route.wants(make.home), (*route.case.assumed, *off.assumed))


# -- the other overrides


def add_other_overrides(make: Maker) -> None:
    plans = []
    for item in [item for item in make.items.values() if item.kind == "override" and make.is_open(item)]:
        route, answer = make.route_to(item, calm_wishes(make, item.formula))
        if route is None:
            make.leave_unmet([item], answer)
        else:
            plans.append(make.plan("override", item.subject, [item], route))
    make.make_stage("overrides", plans)
