"""Steps before flight: the transmitter alone, and the receiver with the motor disconnected."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from setuplint.bench import card_model, items
from setuplint.bench.card_model import CardStep, Item, Row
from setuplint.bench.items import LOW, NO_HOLD, NO_RESCUE, SPRUNG, control_at, in_mode
from setuplint.bench.maker import Maker
from setuplint.bench.questions import CardQuestions
from setuplint.bench.routes import Plan, arrive
from setuplint.bench.step_plans import calm_wishes, end_plans, tour_plan
from setuplint.bench.walk import Walk, starts
from setuplint.bench.ways import turns_early
from setuplint.budget import OutOfBudget
from setuplint.engine.answers import Case, Value
from setuplint.setup import formulas as f

REFUSAL_LOOKS = 12  # at the whole setup, for one way in which a start is refused


def add_power_up(make: Maker) -> None:
    """Steps that show the start: allowed as it must be, and refused for each way to fail the start check."""
    setup, walk, home = make.setup, make.walk, make.home
    make.require(items.STARTS)
    steps = []
    home.reset(walk)
    if starts(setup, walk.state):
        walk.switch_on()
        row = walk.look(card_model.STARTS)
        walk.switch_off()
        steps.append(make.numbered_step("starts", "", [row], walk.take_moves(), [items.STARTS]))
    else:
        walk.moves = []
        make.leave_out([items.STARTS], "no state of the controls meets the start check")
    try:
        free = make.questions.without_start_check() if setup.start is not None else make.questions
    except OutOfBudget as end:
        make.leave_out(map(items.start_part, items.start_terms(setup.start)), str(end), undecided=True)
        make.add_stage("transmitter", steps)
        return
    for check, kind in ((setup.start, card_model.REFUSED), (setup.start_warns, card_model.WARNED)):
        for term in items.start_terms(check):
            found = list(_refusal_steps(make, free, term, kind))
            if not found:
                make.leave_out([items.start_part(term)], "no power-up that meets the rest of the start check fails it")
            steps += found
    if setup.start is None:
        for term in items.start_terms(make.given.start):
            make.leave_out(
                [items.start_part(term)], "no power-up meets the start check: the rest is asked as without it"
            )
    make.add_stage("transmitter", steps)


def _refusal_steps(make: Maker, free: CardQuestions, term: f.Formula, kind: str) -> Iterator[CardStep]:
    """Steps that show a part of the start check refusing the start, or warning of it."""
    check = make.setup.start if kind == card_model.REFUSED else make.setup.start_warns
    assert check is not None
    setup, walk, home = make.setup, make.walk, make.home
    for item, wishes in items.refusals(setup, check, term, kind):
        try:
            make.looks.add(REFUSAL_LOOKS * walk.size)
        except OutOfBudget as end:
            make.leave_out([item], str(end), undecided=True)
            continue
        case = _refused_case(make, free, item, wishes)
        if case is None:
            continue
        wanted = {n: v for n, v in case.matters.items() if n in setup.switches or n in setup.sticks}
        if not _refuses(make, item, wanted):
            wanted = {**case.state.positions, **case.state.sticks}
        walk.set_all(wanted)
        walk.switch_on()
        rows = [walk.look(kind)]
        walk.switch_off()
        home.reset(walk)
        make.require(item)
        yield make.numbered_step("refused", item.subject, rows, walk.take_moves(), [item])


def _refused_case(make: Maker, free: CardQuestions, item: Item, wishes: Sequence[f.Formula]) -> Case | None:
    for wish in wishes:
        answer = free.find(wish, at_power_up=True)
        if answer.found:
            return answer.case
    make.leave_undecided([item], answer)
    return None


def _refuses(make: Maker, item: Item, wanted: dict[str, Value]) -> bool:
    trial = make.walk.copy()
    trial.set_all(wanted)
    trial.switch_on()
    return trial.holds(item.formula) and starts(make.setup, trial.state) == (item.shown_as == card_model.WARNED)


# -- the receiver, the motor disconnected


def add_receiver(make: Maker, sweeps: Sequence[items.Sweep]) -> None:
    walk = make.walk
    make.require(items.RECEIVER)

    def powered(trial: Walk) -> list[Row]:
        trial.switch_on()
        trial.power_receiver()
        return [trial.look()]

    rows = powered(walk)
    first = [make.numbered_step("receiver", "", rows, (), [items.RECEIVER])]
    if turns_early(make.setup):
        first.append(make.numbered_step("turns", "", [], (), ()))
    plans = [
        *_collective_plans(make),
        *_sweep_plans(make, [s for s in sweeps if s.stick and s.stick != "throttle"]),
        *_stop_plans(make),
    ]
    make.make_stage("receiver", plans)
    if make.stages and make.stages[-1].key == "receiver":
        stage = make.stages.pop()
        make.add_stage("receiver", [*first, *stage.steps])
    else:
        make.add_stage("receiver", first)


def _collective_plans(make: Maker) -> Iterator[Plan]:
    """The collective along the stick, to be looked at where it counts: at the head."""
    moved = [c.name for c in make.setup.driving("collective")]
    route, _ = make.route(*calm_wishes(make, LOW)[:3])
    if moved and route is not None:
        ways: list[dict[str, Value]] = [{"throttle": Fraction(0)}, {"throttle": Fraction(100)}]
        yield make.plan("head", moved[0], [], route, *ways)


def _sweep_plans(make: Maker, sweeps: Sequence[items.Sweep]) -> Iterator[Plan]:
    """A stick or knob to both ends, for every line and rate that reads it."""
    for sweep in sweeps:
        yield from end_plans(make, sweep)


def _stop_plans(make: Maker) -> Iterator[Plan]:
    """The motor's stop at the bottom of the stick, with trims and knobs at their ends."""
    setup = make.setup
    seen: set[str] = set()
    for channel in setup.driving("motor"):
        for mode in items.mode_names(setup):
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
                yield from _stop_plans_of(make, channel.name, mode, stick.name, amount, knob=stick.knob)


def _stop_plans_of(make: Maker, channel: str, mode: str, stick: str, amount: Fraction, *, knob: bool) -> Iterator[Plan]:
    beside = f.both(NO_HOLD, NO_RESCUE, SPRUNG, LOW)
    given = items.line_seen(make.setup, channel, in_mode(make.setup, [mode]), make.questions.is_impossible)(beside)
    route, answer = make.route(given)
    name = f"{channel} in {mode}" if mode else channel
    ends = (amount, -amount)
    aims = [
        Item(
            "stop",
            name,
            f"{stick} {value}",
            f.both(given, control_at(stick, value)) if knob else given,
            trim={} if knob else {stick: value},
        )
        for value in ends
    ]
    if route is None:
        make.leave_undecided(aims, answer)
        return
    if knob:
        found = make.routes((aim, [aim.formula]) for aim in aims)
        if found:
            make.require(*(aim for aim, _ in found))
            yield tour_plan(make, "stop", stick, found)
        return
    make.require(*aims)

    def rows(walk: Walk) -> list[Row] | None:
        if not arrive(walk, route):
            return None
        found = []
        for value in ends:
            walk.trim(stick, value)
            found.append(walk.look())
        return found

    yield Plan("stop", stick, tuple(aims), rows, route.wants(make.home))
