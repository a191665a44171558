"""The gain of a gyro: next to nothing in flight, or of another sign after a movement."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, percent, plain
from setuplint.checks import claims
from setuplint.checks.outputs import output_differs
from setuplint.checks.places import formula_differs
from setuplint.engine.answers import Case
from setuplint.engine.literals import TRUE, Frame
from setuplint.engine.search import Movement
from setuplint.findings import Finding
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel

MOST_MOVEMENTS = 1_000  # that change a sign, times channels that may change with it


def turning(ask: Asking) -> f.Formula:
    """Flying; or coming down by autorotation, on a craft that is known to be a collective one, with the hold called."""
    flying: f.Formula = f.Predicate("flying")
    if ask.unread("craft", "rotor") or ask.setup.craft.rotor != "collective":
        return flying
    return f.either(flying, f.both(f.Predicate("hold called"), f.Not(f.Predicate("stop called"))))


def gyro_gain_lost(ask: Asking) -> Iterator[Finding]:
    """The gain of a gyro is next to nothing while the rotor turns in the air."""
    least = ask.limit("least")
    for channel in ask.driving("gyro-gain"):
        name = channel.name
        lost = f.both(turning(ask), f.OutputCompare(name, ">=", -least), f.OutputCompare(name, "<=", least))
        for override, case in claims.by_decider(ask, lost, name):
            value = case.evaluation.outputs[name]
            assert value is not None
            yield ask.finding(
                override or name,
                f"{claims.decider_words(override)} puts {name} at {percent(value)} in flight, within {plain(least):g} points of "
                f"zero: the gyro holds {'weakly' if value else 'nothing'}",
                claims.cause_place(ask, name, override, case),
                case,
                channels=[name, *(c.name for c in ask.motors)],
            )


def gyro_gain_sign(ask: Asking) -> Iterator[Finding]:
    """One movement puts the gain on the other side of zero, and no movement does that and nothing else."""
    least = ask.limit("least", "gyro-gain-lost")
    for channel in ask.driving("gyro-gain"):
        over = f.both(turning(ask), f.OutputCompare(channel.name, ">", least))
        under = f.both(turning(ask), f.OutputCompare(channel.name, "<", -least))
        case = ask.find_movement(over, under, channel.name)
        case = case or ask.find_movement(under, over, channel.name)
        if case is None:
            continue
        movements = sign_movements(ask, over, under)
        if len(movements) * len(ask.setup.channels) > MOST_MOVEMENTS:
            ask.undecided.append((channel.name, f"{len(movements)} movements that change its sign are too many"))
        elif not any(turns_sign_alone(ask, channel, movement, over, under) for movement in movements):
            yield sign_finding(ask, channel, case)
        else:
            for other in ask.setup.channels.values():
                ask.unread_line(other, channel.name)  # it may change with the sign


def sign_movements(ask: Asking, over: f.Formula, under: f.Formula) -> list[Movement]:
    """The movements that may bring either to the other."""
    found = ask.decider.movements([over, under])
    return [
        m for m in found if any(ask.decider.find_movement(*ends, [m]).found for ends in ((over, under), (under, over)))
    ]


def turns_sign_alone(ask: Asking, channel: Channel, movement: Movement, over: f.Formula, under: f.Formula) -> bool:
    """Whether it is proved that this movement, wherever it changes the sign, changes neither the mode nor another output."""
    setup, (switch, _) = ask.setup, movement
    others = [c for c in setup.channels.values() if c is not channel and c.described]
    told: list[f.Formula] = [f.ModeIs(mode) for mode in setup.modes]
    told += [f.Decides(o.channel, o.name) for o in setup.overrides.values() if o.channel != channel.name]
    outputs = [f.OutputCompare(c.name, "<", Fraction(0)) for c in others]

    def differs(frame: Frame, moved: Frame) -> int:
        ends = frame.either(
            frame.both((frame.truth(a)[0], moved.truth(b)[0])) for a, b in ((over, under), (under, over))
        )
        apart = [formula_differs(frame, moved, x) for x in told]
        apart += [output_differs(frame, moved, c, [switch]) for c in others]
        return frame.both((ends, -frame.any_of(apart)[1]))

    formulas = [over, under, *told, *outputs]
    return ask.decider.ask_movement(lambda _: TRUE, differs, [movement], formulas).impossible


def sign_finding(ask: Asking, channel: Channel, case: Case) -> Finding:
    name = channel.name
    assert case.after_evaluation is not None
    assert case.movement is not None
    before, after = case.evaluation.outputs[name], case.after_evaluation.outputs[name]
    assert before is not None
    assert after is not None
    override = case.after_evaluation.deciders[name]
    return ask.finding(
        name,
        f"{' to '.join(case.movement)} takes {name} from {percent(before)} to {percent(after)}, and something else with it: on "
        "many gyros the sign chooses between two ways of holding",
        ("overrides", override) if override else ("channels", name),
        case,
        channels=[name],
    )
