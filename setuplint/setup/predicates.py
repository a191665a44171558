"""The predicates of MEANING.md 7 in terms of outputs, switches and the setup's own formulas, for the encoder."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from setuplint.setup import formulas as f
from setuplint.setup.model import Bound, Setup

START = f.Predicate("start allowed")
SURELY_STOPPED = Fraction(-100)


def surely_runs_above(setup: Setup) -> Fraction:
    """Above this output a motor runs, whatever motor-off is: the hover's, else where a governor holds, else half throttle."""
    craft = setup.craft
    return next((x for x in (craft.hover_throttle, craft.governed_above) if x is not None), Fraction(0))


def runs_at(setup: Setup, output: Fraction, limit: Fraction | None) -> bool | None:
    """Whether a motor runs (is driven) at an output, with `limit` the motor-off (rotor-free) of the craft; None where it is not
    given and that is not sure."""
    if limit is not None:
        return output > limit
    if output <= SURELY_STOPPED:
        return False
    return True if output > surely_runs_above(setup) else None


def running(setup: Setup, predicate: str, motors: Iterable[str]) -> f.Formula:
    """`motor runs` or `rotor driven`, of some motors alone."""
    names, runs = list(motors), predicate == "motor runs"

    def above(number: Fraction) -> f.Formula:
        return f.either(*(f.OutputCompare(name, ">", number) for name in names))

    limit = setup.craft.motor_off if runs else setup.craft.rotor_free
    if limit is not None:
        return above(limit)
    unknown = f.Unknown(setup.lacking("craft", "motor-off") if runs else no_rotor_free(setup))
    return f.either(above(surely_runs_above(setup)), f.both(unknown, above(SURELY_STOPPED)))


def perhaps_running(setup: Setup, predicate: str) -> Iterator[f.Formula]:
    """The same of each channel that may drive a motor, as what it drives cannot be read: true in no state, false where such a
    motor would stand."""
    for name in setup.channels if setup.broken else ():
        if ("channels", name, "drives") in setup.broken:
            unknown = f.Unknown(f"channels.{name}.drives cannot be read")
            yield f.both(unknown, running(setup, predicate, [name]))


def no_rotor_free(setup: Setup) -> str:
    """Why the output above which the rotor is driven is not known, in words."""
    return setup.lacking("craft", "rotor-free" if setup.is_broken("craft", "rotor-free") else "motor-off")


def reason_no_channel(setup: Setup, drives: str) -> str:
    """Why no channel that drives the motor (the collective) is described, in words."""
    if setup.is_broken("channels"):
        return setup.lacking("channels")
    for channel in setup.driving(drives):
        if setup.is_broken("channels", channel.name) or setup.unread_lines(channel.name):
            return setup.undescribed(channel.name)
    return f"no channel that drives {'a motor' if drives == 'motor' else f'the {drives}'} is described"


def bound_formula(bound: Bound) -> f.Formula:
    """What a bound of `[intent]` says, as a formula."""
    parts: list[f.Formula] = []
    least, most = bound.at_least, bound.at_most
    if bound.value is not None:
        least, most = bound.value - 1, bound.value + 1
    if least is not None:
        parts.append(f.OutputCompare(bound.channel, ">=", least))
    if most is not None:
        parts.append(f.OutputCompare(bound.channel, "<=", most))
    return f.both(*parts)


def predicate_formula(setup: Setup, name: str) -> f.Formula:
    """A predicate of MEANING.md 7 in terms of outputs, switches and the setup's own formulas."""
    intent = setup.intent
    match name:
        case "hold called" | "stop called" | "rescue called":
            which = name.split()[0]
            if setup.is_broken("intent", which):
                return f.Unknown(f"intent.{which} cannot be read")
            called: f.Formula | None = getattr(intent, which)
            return f.FALSE if called is None else called
        case "motor runs" | "rotor driven":
            motors = setup.driving("motor")
            if not any(channel.described for channel in motors):
                return f.Unknown(reason_no_channel(setup, "motor"))
            known = running(setup, name, (channel.name for channel in motors))
            return f.either(known, *perhaps_running(setup, name))
        case "flying":
            return f.both(f.Predicate("motor runs"), f.Not(f.Predicate("hold called")))
        case "levelled":
            return f.Unknown(setup.lacking("intent", "level")) if intent.level is None else bound_formula(intent.level)
        case "lifted":
            if intent.lift is None:
                return f.Unknown(setup.lacking("intent", "lift"))
            return f.TRUE if isinstance(intent.lift, str) else bound_formula(intent.lift)
        case "sprung switches released":
            return f.And(tuple(f.SwitchIs(s.name, s.positions[0]) for s in setup.switches.values() if s.sprung))
        case "start allowed":
            if setup.is_broken("start", "requires"):
                return f.Unknown("start.requires cannot be read")
            return f.TRUE if setup.start is None else setup.start
    raise KeyError(name)
