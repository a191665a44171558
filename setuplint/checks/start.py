"""Switching on, and the stick at the bottom: whether the rotor can be driven there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from setuplint.book.asking import Asking, both_scales, seconds
from setuplint.checks import amend, claims
from setuplint.checks.corners import mode_is
from setuplint.checks.modes import trims_not_given
from setuplint.checks.moves import held_at, with_pupils
from setuplint.dataclass import replace
from setuplint.engine.answers import Case, Timing
from setuplint.engine.begun import UNBEGUN
from setuplint.engine.literals import Frame
from setuplint.findings import Edit, Finding, Place, Remark
from setuplint.plain.evaluate import Evaluation, evaluate, truth
from setuplint.plain.simulate import settle_time, simulate
from setuplint.plain.state import OFF
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel
from setuplint.setup.predicates import runs_at, surely_runs_above

HOLD = f.Predicate("hold called")
RESCUE = f.Predicate("rescue called")
DRIVEN = f.Predicate("rotor driven")
ALLOWED = f.Predicate("start allowed")
SPRUNG = f.Predicate("sprung switches released")
REST = ("sticks", "throttle", "rest")
WAVED = "the check at power-up only warns, and can be waved away"
UNENFORCED = (
    "If the transmitter can refuse to transmit until the check holds, set it so, and say enforced = true. If it can only warn, "
    "restrain the craft before its pack is connected; and if the speed controller arms only at a stopped motor, try that on the "
    "bench and say so with craft.arms-when-stopped."
)


def start_impossible(ask: Asking) -> Iterator[Finding]:
    """No state is admitted at power-up."""
    what = "the transmitter can never be started"
    if ask.setup.start_warns is not None:
        what = "the check at power-up can never be met, so that its warning is waved away each time"
    ask = ask.as_enforced()
    if ask.decider.start_possible:
        ask.note(ask.decider.find(ALLOWED, at_power_up=True), "start")
        return
    start = ask.setup.start
    assert start is not None
    sensors = [a.name for a in f.atoms(start) if isinstance(a, f.Compare) and a.name in ask.setup.sensors]
    parts = start.items if isinstance(start, f.And) else (start,)
    alone = [n for n in dict.fromkeys(sensors) if any(names_in(p, n) and unmet_words(ask, p) for p in parts)]
    why = "no position of the switches, sticks and knobs meets [start] requires"
    if alone:
        why = f"[start] requires asks for a reading of {' and '.join(alone)}, and no sensor is heard before the start"
    yield ask.finding("start", f"{what}: {why}", ("start", "requires"))


def names_in(formula: f.Formula, sensor: str) -> bool:
    return any(isinstance(a, f.Compare) and a.name == sensor for a in f.atoms(formula))


def unmet_words(ask: Asking, formula: f.Formula) -> bool:
    """Even alone it is never met at power-up."""
    return ask.decider.find(formula, at_power_up=True).impossible


def start_unguarded(ask: Asking) -> Iterator[Finding]:
    """The power-up state, or any moment before the first movement: the rotor is driven."""
    found = list(unguarded_starts(ask))
    yield from found
    if not found and ask.setup.start_warns is not None:
        ask.remarks.append(Remark("start-warns", WAVED, Place(("start", "enforced"))))


def unguarded_starts(ask: Asking) -> Iterator[Finding]:
    """Who drives the rotor then; the first that is found."""
    if ask.setup.craft.arms_when_stopped:
        return
    driven = f.both(SPRUNG, DRIVEN)
    answer = ask.decider.find(driven, at_power_up=True)
    if answer.because != (UNBEGUN,):  # else what runs come to is asked next, and is all there is
        ask.note(answer, "start")
    if answer.found:
        unheld = f.both(driven, f.Not(HOLD))
        without = ask.decider.find(unheld, at_power_up=True)
        case = without.case or answer.case
        assert case is not None
        if driven_since(ask, case):
            case = at_once(ask, driven, driven if without.case is None else unheld) or case
        yield unguarded_finding(ask, case, held=without.impossible)
        return
    case = first_instant(ask, driven)
    answer = ask.decider.find_moment(driven, Fraction(0), at_start=True)
    if case is not None:
        found, moment = late_alarm_note(ask, case, driven), answer.case
        yield found if moment is None or moment.steps != case.steps else replace(found, timing=moment.timing)
        return
    ask.note(answer, "start")
    if answer.case is not None and answer.case.timing is not None:
        yield before_any_movement(ask, answer.case)


def before_any_movement(ask: Asking, case: Case) -> Finding:
    """The motor runs by itself, a while after power-up."""
    channel, value = driving_motor(ask, case.evaluation.outputs)
    override = case.evaluation.deciders[channel.name]
    timing = case.timing
    assert timing is not None
    related = [Place(("conditions", name, "stays"), "stays on meanwhile") for name in timing.stays]
    related += [Place(("conditions", name, "after"), "waits meanwhile") for name in timing.waits]
    return ask.finding(
        override or channel.name,
        f"switched on like this, and with nothing moved, {claims.decider_words(override)} puts {channel.name} at "
        f"{both_scales(value)} {seconds(timing.since)} later",
        claims.cause_place(ask, channel.name, override, case),
        case,
        related=[*related, *claims.servo_places(ask, case, channel.name)],
        channels=[channel.name],
    )


def start_without_hold(ask: Asking) -> Iterator[Finding]:
    """Start allowed in a power-up state, and hold not called."""
    ask = ask.as_enforced()
    hold = ask.setup.intent.hold
    if hold is None and ask.broken("intent", "hold"):
        ask.not_judged("intent.hold cannot be read")
    if hold is None or ("hold-missing", "hold") in ask.spoken:  # it can never be called, and that has been said
        return
    case = ask.find(f.Not(HOLD), "start", at_power_up=True)
    if case is None:
        return
    place = Place(("start", "requires"))
    if ("start", "requires") not in ask.setup.declared:
        place = Place(("intent", "hold"), "not asked for at power-up: there is no [start] requires")
    yield ask.finding(
        "start",
        claims.claim_words(ask, case, None, None),
        place,
        case,
        edit=amend.start_edit(ask, hold),
        hazard=f.both(ALLOWED, f.Not(HOLD)),
    )


def unguarded_finding(ask: Asking, case: Case, held: bool) -> Finding:
    """The check at power-up is to blame; or, with hold called in every case, who drives the motor all the same."""
    channel, value = driving_motor(ask, case.evaluation.outputs)
    override = case.evaluation.deciders[channel.name]
    decides = claims.cause_place(ask, channel.name, override, case)
    called = truth(ask.as_decided(), HOLD, case.state, case.evaluation) if ask.setup.intent.hold is not None else None
    held = held and called is True
    asked = None if held else start_place(ask)
    how = {True: " with the hold on", False: " with the hold off", None: ""}[called]
    since = driven_since(ask, case)
    when = f"{seconds(since)} later" if since else "at once"
    finding = ask.finding(
        (override or channel.name) if held else "start",
        f"switched on{how}, {claims.decider_words(override)} puts {channel.name} at {both_scales(value)} {when}: "
        f"{'the hold does not stop it' if held else what_lets_it(ask)}",
        asked or decides,
        case,
        related=[*([decides] if asked else []), *claims.servo_places(ask, case, channel.name)],
        channels=[channel.name],
        remedy=UNENFORCED if ask.setup.start_warns is not None and not held else "",
        edit=None if held else unguarded_edit(ask),
    )
    return replace(finding, timing=Timing((Fraction(0),), since, None)) if since else finding


def driven_since(ask: Asking, case: Case) -> Fraction:
    """How many seconds after power-up the rotor is driven first, where it is in the end."""
    setup = ask.as_decided()
    run = simulate(setup, case.state, OFF, [], settle_time(setup), from_power_up=True, jump=True)
    return next((m.at for m in run if driving_motors(ask, m.evaluation.outputs)), Fraction(0))


def what_lets_it(ask: Asking) -> str:
    """Why the check at power-up does not prevent a start, in words."""
    if ask.setup.start_warns is not None:
        return WAVED
    if ask.said("start-impossible"):
        return "[start] requires lets nothing start, and is left out here"
    asks = ("start", "requires") in ask.setup.declared
    return "[start] requires lets it" if asks else "there is no [start] requires to prevent it"


def unguarded_edit(ask: Asking) -> Edit | None:
    """The hold asked for at power-up, where that is what is missing."""
    hold = ask.setup.intent.hold
    waved = ("start", "enforced") in ask.setup.declared and ask.setup.start is None
    if hold is None or waved or ask.broken("intent", "hold") or ask.said("start-impossible"):
        return None
    return amend.start_edit(ask, hold)


def late_alarm_note(ask: Asking, case: Case, formula: f.Formula) -> Finding:
    """What would stop the motor is only on after a while."""
    channel, value = driving_motor(ask, case.evaluation.outputs)
    override = case.evaluation.deciders[channel.name]
    delayed = [c for c in ask.setup.conditions.values() if c.after]
    setup = ask.as_decided()
    alone = [c for c in delayed
             if truth(setup, formula, case.state, evaluate(setup, case.state, timed={c.name: False}))]  # fmt: skip
    blamed = (alone or delayed)[0]
    return ask.finding(
        blamed.name,
        f"switched on like this, {claims.decider_words(override)} puts {channel.name} at {both_scales(value)} in the first "
        f"instant: condition {blamed.name} is on only {float(blamed.after):g} s later",
        Place(("conditions", blamed.name, "after"), "comes later than the first instant"),
        case,
        related=[claims.cause_place(ask, channel.name, override, case)],
        channels=[channel.name],
    )


def first_instant(ask: Asking, formula: f.Formula) -> Case | None:
    """A power-up state in whose first instant, every `after` still off, the formula holds."""
    case = at_once(ask, formula, f.TRUE)
    return None if case is None else replace(case, evaluations=(evaluated_at_once(ask, case),))


def at_once(ask: Asking, formula: f.Formula, settled: f.Formula) -> Case | None:
    """A power-up state in which the one holds in the first instant already, and the other when all has settled."""
    if not any(c.after for c in ask.setup.conditions.values()):
        return None
    setup = ask.decider.setup

    def check(case: Case) -> bool:
        shown = (
            truth(setup, formula, case.state, evaluated_at_once(ask, case)),
            truth(setup, settled, case.state, case.evaluation),
        )
        return shown == (True, True)

    def question(frame: Frame) -> int:
        return frame.both((frame.truth(formula)[0], frame.elsewhere({}).truth(settled)[0]))

    cone = ask.decider.cone([formula, settled])
    return ask.noted(ask.decider.ask(question, cone, check, at_power_up=True, instant=True), "start")


def evaluated_at_once(ask: Asking, case: Case) -> Evaluation:
    """What a power-up state gives in its first instant."""
    off = {c.name: False for c in ask.setup.conditions.values() if c.after}
    return evaluate(ask.decider.setup, case.state, timed=off)


def motor_on_at_low_stick(ask: Asking) -> Iterator[Finding]:
    """Not in idle-up, hold and rescue not called, stick at the bottom, knobs at rest: the rotor is driven."""
    formula = f.both(low_stick(ask), *knobs_at_rest(ask), DRIVEN)
    if hovers_at_rest(ask) or is_rest_unread(ask) or not ask.possible(formula):
        return
    for channel in ask.motors:
        for override, case in claims.by_decider(ask, f.both(formula, *driven_formula(ask, channel)), channel.name):
            yield low_finding(ask, channel, override, case)


def trim_lifts_motor(ask: Asking) -> Iterator[Finding]:
    """The same with trim and knobs anywhere, though not with trim zero and knobs at rest."""
    if hovers_at_rest(ask) or is_rest_unread(ask):
        return
    low = low_stick(ask)
    ask.possible(f.both(low, DRIVEN), trim=True)  # what is not known is noted
    modes = [*(m.name for m in ask.setup.modes.values() if not m.idle_up), None]
    for channel in ask.motors:
        spoken: set[str | None] = set()
        for mode in modes:
            driven = f.both(low, mode_is(ask, mode), DRIVEN, *driven_formula(ask, channel))
            for override, case in claims.by_decider(ask, driven, channel.name, trim=True):
                there = f.both(driven, f.Decides(channel.name, override), *knobs_at_rest(ask))
                if override in spoken or ask.possible(there, override or channel.name):  # not known: noted
                    continue
                if ask.proved_impossible(there):
                    yield low_finding(ask, channel, override, case)
                    spoken.add(override)
        if not spoken:
            lines = map(channel.line, (None, *modes[:-1]))
            for stick in dict.fromkeys(s for line in lines for s in trims_not_given(ask.setup, line, beyond=False)):
                ask.missing("sticks", stick, "trim", subject=channel.name)


def low_finding(ask: Asking, channel: Channel, override: str | None, case: Case) -> Finding:
    value = case.evaluation.outputs[channel.name]
    assert value is not None
    moved = [f"trim of the {n} stick at {float(a):+g} %" for n, a in case.state.trim.items() if a]
    moved += [f"knob {n} at {float(case.state.sticks[n]):+g} %" for n, s in ask.setup.sticks.items()
              if s.knob and n in case.matters and case.state.sticks[n]]  # fmt: skip
    where = f"mode {case.evaluation.mode}" if case.evaluation.mode is not None else "no mode"
    if not ask.setup.modes:
        where = "flight"
    if ask.setup.intent.hold is not None:
        where += ", hold off"
    trimmed = [n for n, a in case.state.trim.items() if a]
    edit = None
    if len(trimmed) == 1 == len(moved) and ("sticks", trimmed[0], "trim") in ask.setup.declared:
        edit = Edit(("sticks", trimmed[0], "trim"), "0")
    return ask.finding(
        override or channel.name,
        f"in {where} and the throttle stick {rest_words(ask)}{''.join(f', {m}' for m in moved)}: "
        f"{claims.decider_words(override)} puts {channel.name} at {both_scales(value)}, and the rotor is driven",
        claims.cause_place(ask, channel.name, override, case),
        case,
        related=list(claims.servo_places(ask, case, channel.name)),
        channels=[channel.name],
        edit=edit,
    )


# -- what they share


def low_stick(ask: Asking) -> f.Formula:
    """Outside idle-up, hold and rescue not called, throttle at the bottom."""
    idle_up = [f.Not(f.ModeIs(m.name)) for m in ask.setup.modes.values() if m.idle_up]
    return f.both(*idle_up, f.Not(HOLD), f.Not(RESCUE), stick_at_bottom(ask))


def stick_at_bottom(ask: Asking) -> f.Formula:
    """The throttle stick where it rests, the pupil's too."""
    return held_at(with_pupils(ask.setup, {"throttle": ask.setup.sticks["throttle"].rest}))


def rest_words(ask: Asking) -> str:
    """Where that is."""
    return "let go, in the middle" if ask.setup.sticks["throttle"].rests_in_the_middle else "at the bottom"


def hovers_at_rest(ask: Asking) -> bool:
    """The stick springs to the middle, where the craft's unit holds its height: there is no bottom to rest at."""
    return ask.setup.stabilised is True and ask.setup.sticks["throttle"].rests_in_the_middle


def is_rest_unread(ask: Asking) -> bool:
    """Where the throttle stick rests cannot be read (noted)."""
    if REST in ask.setup.broken:  # a trim that cannot be read is another matter
        ask.missing(*REST)
    return REST in ask.setup.broken


def knobs_at_rest(ask: Asking) -> list[f.Formula]:
    knobs = [s for s in ask.setup.sticks.values() if s.knob]
    return [f.Compare(k.name, op, k.rest) for k in knobs for op in (">=", "<=")]


def driven_formula(ask: Asking, channel: Channel) -> list[f.Formula]:
    """This motor alone drives the rotor."""
    free = ask.setup.craft.rotor_free
    return [f.OutputCompare(channel.name, ">", surely_runs_above(ask.setup) if free is None else free)]


def driving_motors(ask: Asking, outputs: Mapping[str, Fraction | None]) -> list[Channel]:
    """The motors that drive the rotor."""
    found = [(c, outputs[c.name]) for c in ask.motors]
    return [c for c, value in found if value is not None and runs_at(ask.setup, value, ask.setup.craft.rotor_free)]


def driving_motor(ask: Asking, outputs: Mapping[str, Fraction | None]) -> tuple[Channel, Fraction]:
    """The first motor that drives the rotor, and what it gives."""
    channel = driving_motors(ask, outputs)[0]
    value = outputs[channel.name]
    assert value is not None
    return channel, value


def start_place(ask: Asking) -> Place | None:
    """What is asked for at power-up."""
    if ("start", "requires") in ask.setup.declared:
        return Place(("start", "requires"), "what must hold at power-up")
    return Place(("start",), "nothing must hold at power-up") if ("start",) in ask.setup.declared else None
