"""What one movement of one switch changes, with the sticks held where a pilot can hold them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

from setuplint.checks.asking import Asking
from setuplint.checks.places import either, together
from setuplint.decide import lines, unknowns
from setuplint.decide.answers import Case
from setuplint.decide.decider import Movement
from setuplint.decide.evaluate import evaluate, output
from setuplint.decide.flown import Flown
from setuplint.decide.frame import Frame
from setuplint.decide.sat import TRUE, Rails, known
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel

MIDDLE = Fraction(0)
FARTHEST = 150  # percent: no output is further from zero
MOST_TIES = 64

Held = Mapping[str, Fraction]  # sticks, each held at a percentage


@dataclass(frozen=True, slots=True)
class Step:
    """A question about a movement: as rails of the frames before and after it, and to the plain evaluator (of the case).
    `formulas` are what it rests on."""

    rails: Callable[[Frame, Frame], Rails]
    shown: Callable[[Case], bool]
    formulas: Sequence[f.Formula]


def find_step(
    ask: Asking, step: Step, movements: Sequence[Movement], subject: str, *, rough: bool = False
) -> Case | None:
    """A reachable state and a movement out of it that answer the question; None where there are none, or where that is
    not judged or not decided (noted). `rough`: the rails may say more than is so, which is then not decided."""
    decider = ask.decider
    shown: list[Case] = []

    def check(case: Case) -> bool:
        shown.extend(other for other in tied(ask, case) if step.shown(other))
        return rough or bool(shown)

    def asked(side: Callable[[Rails], int]) -> Callable[[Frame, Frame], int]:
        return lambda frame, moved: side(step.rails(frame, moved))

    answer = decider.ask_movement(lambda _: TRUE, asked(lambda r: r[0]), movements, step.formulas, check)
    case = ask.noted(answer, subject)
    if case is not None:
        if not shown:
            ask.undecided.append((subject, "no state that was tried shows the change by itself"))
        return shown[0] if shown else None
    cone = decider.cone(step.formulas)
    because = unknowns.reasons(ask.setup, f.And(tuple(step.formulas)), cone)
    if answer.impossible and because:
        perhaps = decider.ask_movement(lambda _: TRUE, asked(lambda r: -r[1]), movements, step.formulas)
        if perhaps.found:
            for reason in because:
                ask.not_judged(reason, subject)
    return None


def tied(ask: Asking, case: Case) -> Iterator[Case]:
    """The case, and the same with others that may win a tie after the movement."""
    assert case.after is not None
    assert case.after_evaluation is not None
    ties = {c: names for c, names in case.after_evaluation.tied.items() if c not in case.state.ties}
    for picked, _ in zip(product(*ties.values()), range(MOST_TIES), strict=False):
        won = dict(zip(ties, picked, strict=True))
        after = replace(case.after, ties={**case.after.ties, **won})
        told = tuple(f"{name} wins the tie on {channel}" for channel, name in won.items())
        evaluation = evaluate(ask.setup, after, case.evaluation.memory)
        yield replace(case, after=after, after_evaluation=evaluation, assumed=(*case.assumed, *told))


def settled(case: Case) -> Case:
    """The state after the movement, as a case."""
    assert case.after is not None
    assert case.after_evaluation is not None
    return replace(case, states=(case.after,), evaluations=(case.after_evaluation,))


def outputs(case: Case, channel: str) -> tuple[Fraction, Fraction] | None:
    """What a channel gives before and after the movement, where both are known."""
    assert case.after_evaluation is not None
    before, after = case.evaluation.outputs[channel], case.after_evaluation.outputs[channel]
    return None if before is None or after is None else (before, after)


# -- where the sticks are


@dataclass(frozen=True, slots=True)
class Hover:
    """Where a stick hovers in a mode, in percent, wherever `case` of the line holds (None: everywhere); `known` is False
    where the hover is not given, or the stick never gives it: then it is in the middle."""

    stick: str
    at: Fraction
    case: lines.Case | None = None
    known: bool = True

    def here(self, frame: Frame) -> Rails:
        """The switches stand so that this is where it hovers."""
        return known(TRUE if self.case is None else frame.guards(self.case))

    @property
    def words(self) -> str:
        where = f"{float(round(self.at, 1)):+g} %" if self.at else "0 %"
        return f"with the {self.stick} stick at {where}"


def hovers(ask: Asking, mode: str | None) -> list[Hover]:
    """Where the collective (fixed pitch: the motor) gives its hover value in a mode, of several places the one nearest to
    the middle, all other sticks and knobs in the middle. OutOfBudget where its line has too many cases."""
    craft = ask.setup.craft
    drives, value = ("collective", craft.hover_collective)
    if craft.rotor == "fixed":
        drives, value = ("motor", craft.hover_throttle)
    subject = next((c for c in ask.setup.channels.values() if c.drives == drives and c.described), None)
    found = cases(ask, subject, mode) if subject is not None and value is not None else ()
    if subject is None or value is None or not found:
        return [Hover("throttle", MIDDLE, known=False)]
    return [hover(ask, subject, value, case) for case in found]


def hover(ask: Asking, channel: Channel, value: Fraction, case: lines.Case) -> Hover:
    shapes = dict(case.shapes)
    sticks = [name for name in shapes if not ask.setup.sticks[name].knob]
    stick = next((name for name in sticks if name == "throttle"), sticks[0] if len(sticks) == 1 else None)
    if stick is None:
        return Hover("throttle", MIDDLE, case, known=False)
    others = sum((shape.value(MIDDLE) for name, shape in shapes.items() if name != stick), case.constant)
    at = Flown(channel, others, shapes[stick]).stick_for(value)
    return Hover(stick, MIDDLE if at is None else at, case, known=at is not None)


def cases(ask: Asking, channel: Channel, mode: str | None) -> Sequence[lines.Case]:
    return ask.decider.reach.encoding.lines(channel, mode) or ()


def middle(ask: Asking, channel: Channel) -> dict[str, Fraction]:
    """Every stick that the channel reads, in the middle; knobs are left where they are."""
    terms = [t for line in (channel.own, *channel.lines.values()) for t in line.terms or () if t.kind == "stick"]
    return {str(t.source): MIDDLE for t in terms if not ask.setup.sticks[str(t.source)].knob}


def held_at(held: Held) -> f.Formula:
    """The sticks are there."""
    return f.both(*(f.Compare(stick, op, at) for stick, at in held.items() for op in (">=", "<=")))


# -- how far an output goes


def turns_on_knobs(ask: Asking, channel: Channel) -> bool:
    """A knob lets it give more than `levels` can list."""
    lines_of = (channel.own, *channel.lines.values())
    return any(
        t.kind == "stick" and ask.setup.sticks[str(t.source)].knob for line in lines_of for t in line.terms or ()
    )


def levels(ask: Asking, channel: Channel, modes: Iterable[str | None], held: Held) -> list[Fraction]:
    """What a channel may give with some sticks held; where knobs matter too, also every whole number. OutOfBudget where a
    line has too many cases."""
    values = {output(channel, o.value) for o in ask.setup.overrides.values()
              if o.channel == channel.name and o.value is not None}  # fmt: skip
    for case in (case for mode in modes for case in cases(ask, channel, mode)):
        if all(name in held for name, _ in case.shapes):
            demand = sum((shape.value(held[name]) for name, shape in case.shapes), case.constant)
            values.add(output(channel, demand))
        else:
            values |= {Fraction(n) for n in range(-FARTHEST, FARTHEST + 1)}
    return sorted(values)


@dataclass(frozen=True, slots=True)
class Change:
    """An output that rises by more than `up` points, or falls by more than `down` (None: either may go any way). With
    `slack`, up to so many points less count too."""

    channel: str
    up: Fraction | None = None
    down: Fraction | None = None
    slack: int = 0

    def rails(self, frame: Frame, moved: Frame, values: Iterable[Fraction]) -> Rails:
        """`values` are what the channel may give before."""
        found: list[Rails] = []
        for value in values:
            if self.up is not None:
                found.append(self._both(frame, "<=", value + self.slack, moved, ">", value + self.up))
            if self.down is not None:
                found.append(self._both(frame, ">=", value - self.slack, moved, "<", value - self.down))
        return either(frame, found)

    def _both(self, frame: Frame, op: str, number: Fraction, moved: Frame, then: str, after: Fraction) -> Rails:
        here, there = f.OutputCompare(self.channel, op, number), f.OutputCompare(self.channel, then, after)
        return together(frame, [frame.truth(here), moved.truth(there)])

    def shown(self, case: Case) -> bool:
        """In a case, without slack."""
        found = outputs(case, self.channel)
        if found is None:
            return False
        by = found[1] - found[0]
        return (self.up is not None and by > self.up) or (self.down is not None and -by > self.down)
