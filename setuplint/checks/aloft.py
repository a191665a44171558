"""Whether the craft has left the ground: a memory bit of the question, not of the setup (MEANING.md 7)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from setuplint.book.asking import Asking
from setuplint.checks.corners import mode_is
from setuplint.engine import unknowns
from setuplint.engine.answers import NOT_DECIDED, NOT_JUDGED
from setuplint.setup import formulas as f
from setuplint.setup.cone import names_of_kind
from setuplint.setup.model import Channel
from setuplint.setup.predicates import predicate_formula

OFF_THE_GROUND = "off the ground"  # no condition of a file has blanks in its name
NEITHER = f.both(f.Not(f.Predicate("hold called")), f.Not(f.Predicate("stop called")))
FULL = Fraction(100)


def off_the_ground(ask: Asking, *formulas: f.Formula) -> f.Formula:
    """That it has, for questions of the rule that rest on these formulas too. Where these have memory, `ask` goes on with a
    decider that remembers it; else it could have got there from any state with neither hold nor stop called."""
    carries = f.both(NEITHER, carrying(ask))
    cone = ask.decider.cone([carries, *formulas])
    conditions = [ask.setup.conditions[name] for name in names_of_kind(cone, "condition")]
    reasons = unknowns.reasons(ask.setup, carries, ask.decider.cone([carries]), ask.decider.unknowns)
    unsure = f.both(NEITHER, *(f.Unknown(reason) for reason in reasons[:1]))
    if not any(condition.remembers for condition in conditions):
        answer = ask.decider.find(carries)
        if answer.found:
            return NEITHER
        if answer.verdict == NOT_DECIDED:
            ask.note(answer, "")
        if answer.verdict == NOT_JUDGED:
            return unsure
        if not any(condition.after or condition.stays for condition in conditions):
            return f.FALSE
    ask.unwatched = ask.unwatched or ask.decider
    ask.decider = ask.decider.watching(OFF_THE_GROUND, surely(carries), f.Not(NEITHER))
    remembered: f.Formula = f.Holds(OFF_THE_GROUND)
    return f.either(remembered, unsure) if reasons else remembered


def carrying(ask: Asking) -> f.Formula:
    """What the motor, and on a collective rotor the pitch, must give to carry the craft."""
    craft = ask.setup.craft
    driven = predicate_formula(ask.setup, "rotor driven")
    if craft.rotor != "fixed":
        hover = craft.hover_collective
        pitched = ask.setup.driving("collective")
        if hover is None or not pitched:
            return driven
        return f.both(driven, f.either(*(pitch_at(ask, channel, hover) for channel in pitched)))
    need = ask.hover_throttle if ask.hover_throttle is not None else craft.governed_above
    if need is None or not any(channel.described for channel in ask.motors):  # without a motor this is not known
        return driven
    return f.either(*(f.OutputCompare(c.name, ">=", need) for c in ask.motors))


def pitch_at(ask: Asking, channel: Channel, hover: Fraction) -> f.Formula:
    """The collective's output at a hover's or beyond it, in the direction that it has in each mode."""
    found: dict[str, list[f.Formula]] = {">=": [], "<=": []}
    for mode in [*ask.setup.modes, None]:
        ways = throttle_ways(ask, channel, mode) or {1}
        for op, way in ((">=", 1), ("<=", -1)):
            found[op] += [mode_is(ask, mode)] if way in ways else []
    sides = [f.both(f.OutputCompare(channel.name, op, hover), f.either(*modes)) for op, modes in found.items() if modes]
    if not found["<="]:
        return f.OutputCompare(channel.name, ">=", hover)
    return f.OutputCompare(channel.name, "<=", hover) if not found[">="] else f.either(*sides)


def throttle_ways(ask: Asking, channel: Channel, mode: str | None) -> set[int]:
    """Which ways a channel's output may go in a mode as the throttle stick rises: 1 up, -1 down."""
    found = set()
    for case in ask.decider.lines(channel, mode) or ():
        own = (shape for name, shape in case.shapes if "throttle" in (name, ask.setup.sticks[name].pupil_of))
        rise = sum(shape.value(FULL) - shape.value(-FULL) for shape in own)
        if rise:
            found.add(1 if (rise > 0) != channel.reversed else -1)
    return found


def surely(formula: f.Formula) -> f.Formula:
    """The formula with what is not known taken for false, where it may be taken for anything."""
    if isinstance(formula, f.And | f.Or):
        return type(formula)(tuple(_each(formula.items)))
    return f.FALSE if isinstance(formula, f.Unknown) else formula


def _each(items: Iterable[f.Formula]) -> Iterator[f.Formula]:
    return (surely(item) for item in items)
