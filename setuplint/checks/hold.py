"""Throttle hold: whether there is one, and whether a pilot can count on it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from itertools import islice

from setuplint.book.asking import Asking, both_scales, percent
from setuplint.checks import claims
from setuplint.checks.outputs import (
    CLEAR,
    changed_words,
    note_undescribed,
    output_differs,
    points_apart,
    reads_switches,
)
from setuplint.checks.places import (
    MOST_PLACES,
    PlacePair,
    formula_differs,
    note_unknown,
    other_place,
    placements,
)
from setuplint.curves.turns import ANY
from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails
from setuplint.findings import Finding, Place
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.cone import names_of_kind
from setuplint.setup.model import Channel
from setuplint.setup.predicates import runs_at, surely_runs_above

CALLED = f.Predicate("hold called")


def hold_missing(ask: Asking) -> Iterator[Finding]:
    """No `[intent] hold`, or no state has it called."""
    if ask.setup.intent.hold is None and ask.broken("intent", "hold"):
        ask.not_judged("intent.hold cannot be read")
    elif ask.setup.intent.hold is None:
        yield ask.finding(
            "hold",
            "nothing is named as a throttle hold: there is no [intent] hold, so no switch is known to stop the motor",
            ("intent",) if ("intent",) in ask.setup.declared else (),
        )
    elif not ask.possible(CALLED, "hold") and ask.proved_impossible(CALLED):
        yield ask.finding(
            "hold",
            "the throttle hold can never be called: no place of the controls makes its formula hold",
            ("intent", "hold"),
        )


def hold_idles(ask: Asking) -> Iterator[Finding]:
    """Hold called, the motor runs without driving the rotor, and there is no stop, or none that anything calls."""
    stop, stopped = ask.setup.intent.stop, ask.decider.find(f.Predicate("stop called"))
    if stopped.found or ask.unread("intent", "stop") or not is_callable_hold(ask):
        return
    if not stopped.impossible:
        ask.note(stopped, "stop")
        return
    idles = f.both(CALLED, f.Predicate("motor runs"), f.Not(f.Predicate("rotor driven")))
    if not ask.possible(idles):
        return
    off = ask.setup.craft.motor_off
    no_stop = "there is no [intent] stop" if stop is None else "nothing can call the [intent] stop"
    for channel in ask.motors:
        runs = f.both(idles, f.OutputCompare(channel.name, ">", surely_runs_above(ask.setup) if off is None else off))
        for override, case in claims.stop_causes(ask, runs, channel.name, CALLED):
            value = case.evaluation.outputs[channel.name]
            assert value is not None
            who = claims.decider_words(override)
            yield ask.finding(
                override or channel.name,
                f"with the throttle hold on, {who} lets the motor idle: {channel.name} at {both_scales(value)}"
                f"{'' if off is None else f', above motor-off at {percent(off)}'}, and {no_stop}",
                claims.cause_place(ask, channel.name, override, case),
                case,
                related=[Place(("intent", "hold"), "what calls hold"), *claims.servo_places(ask, case, channel.name)],
                channels=[channel.name],
                edit=claims.stronger_hold_edit(ask, channel.name, override, CALLED, case) if override else None,
                hazard=idles,
            )


def hold_springs_back(ask: Asking) -> Iterator[Finding]:
    """Hold can be called, but in no state with the sprung switches released."""
    stays = f.both(CALLED, f.Predicate("sprung switches released"))
    if not is_callable_hold(ask) or ask.possible(stays, "hold") or not ask.proved_impossible(stays):
        return
    inside = names_of_kind(ask.decider.cone([CALLED]), "switch")
    sprung = [s for s in ask.setup.switches.values() if s.sprung and s.name in inside]
    yield ask.finding(
        "hold",
        f"the throttle hold lasts only while the switch {' or '.join(s.name for s in sprung)} is kept from springing back: "
        "let go, and the motor answers the stick again",
        ("intent", "hold"),
        ask.find(CALLED, "hold"),
        related=[Place(("switches", s.name), f"springs back to {s.positions[0]}") for s in sprung],
    )


def hold_two_moves(ask: Asking) -> Iterator[Finding]:
    """A flying state from which no one movement of a switch calls hold."""
    if not is_callable_hold(ask):
        return
    case = ask.noted(ask.decider.find_no_movement(f.Predicate("flying"), CALLED), "hold")
    if case is None:
        return
    switches = list(dict.fromkeys(s for s, _ in ask.decider.possible_movements([CALLED])))
    what = f"no one movement of {' or '.join(switches)} calls" if switches else "no switch calls"
    read = names_of_kind(ask.decider.cone([CALLED]), "stick")
    sticks = [f"the {s.name} {'knob' if s.knob else 'stick'}" for s in ask.setup.sticks.values() if s.name in read]
    waits = f", which waits for {' and '.join(sticks)} too" if sticks else ""
    yield ask.finding(
        "hold", f"in flight, with {running_words(ask, case)}, {what} the throttle hold{waits}", ("intent", "hold"), case
    )


def hold_shared(ask: Asking) -> Iterator[Finding]:
    """The switches of hold's formula have two places without hold that differ in mode or outputs, one in idle-up."""
    setup, switches = ask.setup, hold_switches(ask)
    if not is_callable_hold(ask) or not any(m.idle_up for m in setup.modes.values()):
        return
    note_unknown(ask, CALLED)
    if not has_several_places(ask, switches):
        return
    idle_up = f.either(*(f.ModeIs(m.name) for m in setup.modes.values() if m.idle_up))
    modes: list[f.Formula] = [f.ModeIs(m) for m in setup.modes]
    channels = [c for c in ask.channels if c.described and rests_on_switches(ask, c, switches)]

    def apart(one: Frame, two: Frame, share: Fraction = ANY) -> Rails:
        released = [frame.truth(f.Not(CALLED)) for frame in (one, two)]
        idle = one.truth(idle_up), two.truth(idle_up)
        mode = [formula_differs(one, two, m) for m in modes]
        outputs = [output_differs(one, two, c, switches, share) for c in channels]
        return one.all_of([*released, one.any_of(idle), one.any_of([*mode, *outputs])])

    def shown(case: Case, state: State, there: Evaluation) -> bool:
        here = case.evaluation
        return (
            truth(setup, CALLED, case.state, here) is False
            and truth(setup, CALLED, state, there) is False
            and any(e.mode is not None and setup.modes[e.mode].idle_up for e in (here, there))
            and (here.mode != there.mode or bool(changed_words(here, there)))
        )

    outputs = [f.OutputCompare(c.name, "<", Fraction(0)) for c in channels]
    reads = any(reads_switches(c, switches) for c in channels)
    clearer = [partial(apart, share=share) for share in CLEAR if reads]
    pair = PlacePair(apart, shown, (CALLED, *modes, *outputs), clearer)
    found = other_place(ask, pair, switches, "hold")
    if found is not None:
        yield shared_hold_finding(ask, *found)
    else:
        note_undescribed(ask, "hold")


def shared_hold_finding(ask: Asking, case: Case, state: State, there: Evaluation) -> Finding:
    """Two places of the hold's switches without hold, the second with its evaluation, and what is another there."""
    here = case.evaluation
    moved = {s: p for s, p in state.positions.items() if case.state.positions[s] != p}
    was = " and ".join(f"{s} at {case.state.positions[s]}" for s in moved)
    goes = " and ".join(f"{s} at {p}" for s, p in moved.items())
    does = f"{was} gives {mode_name(here)}, {goes} gives {mode_name(there)}"
    if here.mode == there.mode:
        name = next(iter(changed_words(here, there)))
        values = shown_output(ask, here, name), shown_output(ask, there, name)
        by = points_apart(here, there, name)
        second = f"at {values[1]}" if values[0] != values[1] else f"{by} points beside that"
        does = f"in {mode_name(here)}, {was} puts {name} at {values[0]}, {goes} {second}"
    return ask.finding(
        "hold",
        f"what calls the throttle hold does something else too, while the hold is not called: {does}",
        ("intent", "hold"),
        replace(case, after_evaluation=there),
        related=[Place(("switches", s), "the hold's, and more than that") for s in moved],
        then="then " + ", ".join(f"{s} to {p}" for s, p in moved.items()),
    )


# -- what they share


def is_callable_hold(ask: Asking) -> bool:
    """Whether some state has hold called; not where that is not judged (noted)."""
    if ask.setup.intent.hold is None and not ask.broken("intent", "hold"):
        return False
    return ask.possible(CALLED, "hold")


def hold_switches(ask: Asking) -> list[str]:
    """The switches that hold's formula rests on, in file order."""
    inside = names_of_kind(ask.decider.cone([CALLED]), "switch")
    return [s for s in ask.setup.switches if s in inside]


def running_words(ask: Asking, case: Case) -> str:
    """The first motor that runs, with its number."""
    off = ask.setup.craft.motor_off
    values = [(c.name, case.evaluation.outputs[c.name]) for c in ask.motors]
    return next(f"{name} at {both_scales(v)}" for name, v in values if v is not None and runs_at(ask.setup, v, off))


def mode_name(evaluation: Evaluation) -> str:
    return f"mode {evaluation.mode}" if evaluation.mode is not None else "no mode"


def shown_output(ask: Asking, evaluation: Evaluation, channel: str) -> str:
    value = evaluation.outputs[channel]
    assert value is not None
    return both_scales(value) if ask.setup.channels[channel].drives == "motor" else percent(value)


def rests_on_switches(ask: Asking, channel: Channel, switches: list[str]) -> bool:
    """Whether the channel's output can hang on one of the switches."""
    return not names_of_kind(ask.decider.cone([f.Decides(channel.name, None)]), "switch").isdisjoint(switches)


def has_several_places(ask: Asking, switches: list[str]) -> bool:
    """Whether the switches have more than one place in which the hold may not be called."""
    places = list(islice(placements(ask.setup, switches), MOST_PLACES + 1))
    if len(places) > MOST_PLACES:
        return True
    left = (p for p in places
            if not ask.proved_impossible(f.both(f.Not(CALLED), *(f.SwitchIs(s, at) for s, at in p.items()))))  # fmt: skip
    return len(list(islice(left, 2))) == 2
