"""The predicates of MEANING.md section 7, spelt out in outputs, switches and conditions."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from .formula import And, Const, Formula, Is, Not, Or, Output, Predicate
from .parts import Bound

if TYPE_CHECKING:
    from .meaning import World


def expand(world: World, formula: Formula) -> Formula:
    """A formula without predicates; `CHANNEL follows STICK` stays."""
    match formula:
        case Not(part):
            return Not(expand(world, part))
        case And(parts):
            return And(tuple(expand(world, part) for part in parts))
        case Or(parts):
            return Or(tuple(expand(world, part) for part in parts))
        case Predicate(name):
            return predicate(world, name)
    return formula


def predicate(world: World, name: str) -> Formula:
    match name:
        case "hold called" | "stop called" | "rescue called":
            return world.intent.get(name.split()[0], Const(False))
        case "motor runs":
            return _motor_above(world, world.motor_off)
        case "rotor driven":
            return _motor_above(world, world.rotor_free)
        case "flying":
            return And((predicate(world, "motor runs"), Not(predicate(world, "hold called"))))
        case "levelled":
            return Const(None) if world.level is None else bound_limits(world.level)
        case "lifted":
            if isinstance(world.lift, Bound):
                return bound_limits(world.lift)
            return Const(True if world.lift == "unit" else None)
        case "sprung switches released":
            return And(tuple(Is(name, world.switches[name][0]) for name in world.momentary))
        case "start allowed":
            return Const(True) if world.requires is None else world.requires
    raise ValueError(name)


def _motor_above(world: World, number: Fraction | None) -> Formula:
    motors = [c.name for c in world.channels.values() if c.drives == "motor"]
    if not any(world.described(name) for name in motors):
        return Const(None)
    if number is None:  # what is certain all the same (MEANING.md 7)
        sure = next((x for x in (world.hover_throttle, world.governed_above) if x is not None), Fraction(0))
        runs = Or(tuple(Output(name, ">", sure) for name in motors))
        return Or((runs, And((Const(None), Or(tuple(Output(name, ">", Fraction(-100)) for name in motors))))))
    return Or(tuple(Output(name, ">", number) for name in motors))


def bound_limits(bound: Bound) -> Formula:
    """What `[intent]` asks of a channel, as comparisons; `value` means within one point of it."""
    least, most = bound.at_least, bound.at_most
    if bound.value is not None:
        least, most = bound.value - 1, bound.value + 1
    parts = [(">=", least), ("<=", most)]
    return And(tuple(Output(bound.channel, op, number) for op, number in parts if number is not None))
