"""What stops the motor, and what a knock on a sprung switch does."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.formats.control_words import and_joined
from setuplint.formats.numbers import decimal
from setuplint.notes.asking import Asker, Basis, Note, Open
from setuplint.setup import formulas as f
from setuplint.setup.model import Switch

STOP, KNOCK = "stop", "knock"
LOW = "throttle <= -100"
MOST_POSITIONS = 40  # of switches


def stop_notes(ask: Asker) -> Iterator[Note]:
    """Which movement stops the motor, whatever else stands as it stands."""
    setup = ask.setup
    motors = [c.name for c in setup.driving("motor")]
    if not motors:
        return
    engine = setup.is_engine
    kinds = [("rotor driven", "the rotor is let go of", "is the rotor driven")] if engine else []
    kinds += [("motor runs", "the engine stops", "does the engine run") if engine else RUNS]
    for predicate, does, question in kinds:
        try:
            if ask.never(predicate):
                yield ask.note(STOP, f"in no state that can be reached {question}.")
                return
            ask.taken()
            yield from _stopping_positions(ask, motors, predicate, does)
        except Open as why:
            yield ask.open_note(STOP, f"which movement means that {does}", why)
    yield from _low_stick(ask, motors)


RUNS = ("motor runs", "the motor stops", "does the motor run")


def _stopping_positions(ask: Asker, motors: list[str], predicate: str, does: str) -> Iterator[Note]:
    positions = [(switch.name, where) for switch in ask.setup.switches.values() for where in switch.positions]
    sure, others = False, list[Basis]()
    for switch, where in positions[:MOST_POSITIONS]:
        if ask.never(f"{switch} is {where}", predicate):
            sure = True
            yield ask.note(
                STOP, f"{ask.words.move(switch, where)}: {does}, from every state{_within(ask, switch, where, motors)}."
            )
        others += ask.taken()
    if not sure:
        yield ask.note(STOP, f"there is no switch of which one position means, from every state, that {does}.", others)


def _within(ask: Asker, switch: str, position: str, motors: list[str]) -> str:
    try:
        seconds = ask.seconds(f.SwitchIs(switch, position), motors)
    except Open:
        return ", how soon is not decided"
    return f", within {decimal(seconds)} s" if seconds else ", at once"


def _low_stick(ask: Asker, motors: list[str]) -> Iterator[Note]:
    """The stick at the bottom, in each mode, with the hold off."""
    for mode in [*ask.setup.modes] or [""]:
        there = (
            "not hold called",
            "not rescue called",
            "sprung switches released",
            f"mode is {mode}" if mode else "",
            LOW,
        )
        where = f"in mode {mode}, the hold off," if mode else "with the hold off"
        try:
            if ask.never(*there):
                continue
            if ask.never(*there, "rotor driven"):
                yield ask.note(STOP, f"{where} the throttle stick at the bottom stops the rotor.")
                continue
            always = " always" if ask.can_be(*there, "not rotor driven") else ""
            runs = " and ".join(f"{name} at {ask.motor(ask.ends(name, *there)[0])} or more" for name in motors)
            yield ask.note(STOP, f"{where} the throttle stick at the bottom does not{always} stop the rotor: {runs}.")
        except Open as why:
            yield ask.open_note(STOP, f"whether, {where} the stick at the bottom stops the rotor", why)


def knock_notes(ask: Asker) -> Iterator[Note]:
    """What a knock on each sprung switch does to a craft on the ground, with the hold off and with it on."""
    if not ask.setup.driving("motor"):
        return
    for switch in [switch for switch in ask.setup.switches.values() if switch.sprung]:
        for position in switch.positions[1:]:
            try:
                yield _knock(ask, switch, position)
            except Open as why:
                yield ask.open_note(KNOCK, f"what a knock on {switch.name} does", why)


def _knock(ask: Asker, switch: Switch, position: str) -> Note:
    movement = (switch.name, position)
    still = f"{LOW} and sprung switches released and not rotor driven"
    knock = f"a knock on {f'{switch.name} to {position}' if len(switch.positions) > 2 else switch.name}"
    hold = ask.setup.intent.hold is not None
    if hold and ask.can_move(f"hold called and {still}", movement, "rotor driven"):
        return ask.note(KNOCK, f"{knock} drives the rotor of a craft that stands, even with the hold on.")
    standing = "a craft that stands with the stick at the bottom" + (" and the hold off" if hold else "")
    if ask.never("not hold called", still):
        return ask.note(KNOCK, f"{knock}: there is no {standing[2:]} and its rotor still.")
    if not ask.can_move(f"not hold called and {still}", movement, "rotor driven"):
        return ask.note(KNOCK, f"{knock} does not drive the rotor of {standing}.")
    after = (f"{switch.name} is {position}", LOW, "not hold called")
    motors = [channel.name for channel in ask.setup.driving("motor")]
    most = and_joined([f"{name} goes to {ask.motor(ask.ends(name, *after)[1])} at most" for name in motors])
    held = "; with the hold on it does not. Hold on before a hand or a strap comes near" if hold else ""
    return ask.note(KNOCK, f"{knock} drives the rotor of {standing}: {most}{held}.")
