"""What one movement of one switch changes, with the sticks held where a pilot can hold them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from setuplint.book import thin_air
from setuplint.book.asking import Asking
from setuplint.curves import lines
from setuplint.curves.flown import Flown
from setuplint.dataclass import dataclass, replace
from setuplint.engine import unknowns
from setuplint.engine.answers import Answer, Case
from setuplint.engine.literals import TRUE, Frame, Rails, known
from setuplint.engine.search import Movement
from setuplint.plain.evaluate import evaluate, truth
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Setup, pupil_name

MIDDLE = Fraction(0)
KEYS = {"collective": (("craft", "hover-collective"),), "motor": thin_air.KEYS}  # where the hover is written
MOST_TIES = 64

Held = Mapping[str, Fraction]  # sticks, each held at a percentage


@dataclass(frozen=True, slots=True)
class MovementStep:
    """A question about a movement: as rails of the frames before and after it, and to the plain evaluator (of the case).
    `formulas` are what it rests on."""

    rails: Callable[[Frame, Frame], Rails]
    shown: Callable[[Case], bool]
    formulas: Sequence[f.Formula]


def find_step(ask: Asking, step: MovementStep, movements: Sequence[Movement], subject: str) -> Case | None:
    """A reachable state and a movement out of it that answer the question; None where there are none, or where that is
    not judged or not decided (noted)."""
    shown: list[Case] = []

    def check(case: Case) -> bool:
        shown.extend(other for other in tie_variants(ask, case) if step.shown(other))
        return bool(shown)

    if ask.noted(step_answer(ask, step, movements, 0, check), subject) is not None:
        return shown[0]
    cone = ask.decider.cone(step.formulas)
    reasons = unknowns.reasons(ask.as_decided(), f.And(tuple(step.formulas)), cone, ask.decider.unknowns)
    if reasons and (ask.may_be(step_answer(ask, step, movements, 1), subject) or moved_unread(ask, step, subject)):
        for reason in reasons:
            ask.not_judged(reason, subject)
    return None


def moved_unread(ask: Asking, step: MovementStep, subject: str) -> bool:
    """Whether it may be so by a movement of what cannot be read, which moves nothing else."""
    cone = ask.decider.cone(step.formulas)
    return ask.may_be(ask.decider.ask(lambda frame: -step.rails(frame, frame)[1], cone), subject)


def find_nearly(ask: Asking, step: MovementStep, movements: Sequence[Movement], subject: str) -> list[Case] | None:
    """The same for rails that may say more than is so: the cases that show it, of those that one answer has; None where it
    is impossible for sure."""
    answer = step_answer(ask, step, movements, 0)
    case = ask.noted(answer, subject)
    return None if case is None else [other for other in tie_variants(ask, case) if step.shown(other)]


def step_answer(
    ask: Asking,
    step: MovementStep,
    movements: Sequence[Movement],
    side: int,
    check: Callable[[Case], bool] | None = None,
) -> Answer:
    """Whether it may be true (side 0), or is not known to be false (1)."""

    def after(frame: Frame, moved: Frame) -> int:
        true, false = step.rails(frame, moved)
        return -false if side else true

    return ask.decider.ask_movement(lambda _: TRUE, after, movements, step.formulas, check)


def tie_variants(ask: Asking, case: Case) -> Iterator[Case]:
    """The case, and the same with others that may win a tie after the movement."""
    assert case.after is not None
    assert case.after_evaluation is not None
    ties = {c: names for c, names in case.after_evaluation.tied.items() if c not in case.state.ties}
    for picked, _ in zip(product(*ties.values()), range(MOST_TIES), strict=False):
        won = dict(zip(ties, picked, strict=True))
        after = replace(case.after, ties={**case.after.ties, **won})
        told = tuple(f"{name} wins the tie on {channel}" for channel, name in won.items())
        evaluation = evaluate(ask.as_decided(), after, case.evaluation.memory)
        yield replace(case, after=after, after_evaluation=evaluation, assumed=(*case.assumed, *told))


def shows_both(ask: Asking, before: f.Formula, after: f.Formula, case: Case) -> bool:
    """The movement goes out of a state with the one formula into one with the other."""
    assert case.after is not None
    assert case.after_evaluation is not None
    setup = ask.as_decided()
    first = truth(setup, before, case.state, case.evaluation)
    return first is True and truth(setup, after, case.after, case.after_evaluation) is True


def settled_case(case: Case) -> Case:
    """The state after the movement, as a case."""
    assert case.after is not None
    assert case.after_evaluation is not None
    return replace(case, states=(case.after,), evaluations=(case.after_evaluation,))


def outputs_after(case: Case, channel: str) -> tuple[Fraction, Fraction] | None:
    """What a channel gives before and after the movement, where both are known."""
    assert case.after_evaluation is not None
    before, after = case.evaluation.outputs[channel], case.after_evaluation.outputs[channel]
    return None if before is None or after is None else (before, after)


# -- where the sticks are


@dataclass(frozen=True, slots=True)
class HoverPlace:
    """Where a stick hovers in a mode, in percent, wherever `case` of the line holds (None: everywhere); `known` is False
    where the hover is not given, or the stick never gives it: then it is in the middle."""

    stick: str
    at: Fraction
    case: lines.LineCase | None = None
    known: bool = True
    others: Sequence[lines.LineCase] = ()  # the line's other cases

    def here(self, frame: Frame) -> Rails:
        """The switches stand so that this is where it hovers; whether a stick is lent may not be known."""
        if self.case is None:
            return known(TRUE)
        return frame.guards(self.case), frame.either(frame.guards(case) for case in self.others)

    @property
    def words(self) -> str:
        where = f"{float(round(self.at, 1)):+g} %" if self.at else "0 %"
        return f"with the {self.stick} stick at {where}"


def hover_places(ask: Asking, mode: str | None) -> list[HoverPlace]:
    """Where the collective (fixed pitch: the motor) gives its hover value in a mode, of several places the one nearest to
    the middle, all other sticks and knobs in the middle. OutOfBudget where its line has too many cases. Empty, and noted,
    where what gives the hover is in the file but cannot be read."""
    craft = ask.setup.craft
    drives, value = ("collective", craft.hover_collective)
    if craft.rotor == "fixed":
        drives, value = ("motor", ask.hover_throttle)
    subject = next((c for c in ask.setup.driving(drives) if c.described), None)
    found = ask.decider.lines(subject, mode) if subject is not None and value is not None else ()
    if subject is not None and value is not None and found:
        places = [(hover_place(ask, subject, value, case), case) for case in found]
        return [replace(place, others=[other for other in found if other is not case]) for place, case in places]
    unread = unread_hover(ask, drives, subject, mode)
    if unread:
        ask.not_judged(unread)
        return []
    return [HoverPlace("throttle", MIDDLE, known=False)]


def unread_hover(ask: Asking, drives: str, subject: Channel | None, mode: str | None) -> str:
    """Which part of the file that may say where it hovers cannot be read, in words; empty where there is none."""
    setup = ask.setup
    for key in KEYS[drives]:
        if setup.is_broken(*key):
            return setup.lacking(*key)
    for channel in setup.channels.values() if subject is None else (subject,):
        if channel.drives in (drives, "other") and setup.is_broken("channels", channel.name):
            return setup.lacking("channels", channel.name)
    if subject is None:
        return ""
    whole = ("channels", subject.name)
    written = any((*path, "from") in setup.declared for path in (whole, (*whole, "in", str(mode))))
    unknown = written and subject.line(mode).terms is None
    return f"what {'.'.join(whole)} stands on cannot be read" if unknown else ""


def hover_place(ask: Asking, channel: Channel, value: Fraction, case: lines.LineCase) -> HoverPlace:
    shapes = dict(case.shapes)
    own = {name: ask.setup.sticks[name].pupil_of or name for name in shapes if not ask.setup.sticks[name].knob}
    stick = next((name for name in own if own[name] == "throttle"), next(iter(own)) if len(own) == 1 else None)
    if stick is None:
        return HoverPlace("throttle", MIDDLE, case, known=False)
    others = sum((shape.value(MIDDLE) for name, shape in shapes.items() if name != stick), case.constant)
    at = Flown(channel, others, shapes[stick]).stick_for(value)
    return HoverPlace(own[stick], MIDDLE if at is None else at, case, known=at is not None)


def placed_sticks(ask: Asking, channel: Channel, stick: str, at: Fraction) -> dict[str, Fraction]:
    """One stick at a place, the others that the channel reads in the middle, the pupil's like the teacher's; knobs are left
    where they are."""
    read = (name for name in channel.sticks if not ask.setup.sticks[name].knob)
    return with_pupils(ask.setup, dict.fromkeys(read, MIDDLE) | {stick: at})


def with_pupils(setup: Setup, held: Held) -> dict[str, Fraction]:
    """The same places for the pupil's sticks."""
    return {**held, **{pupil_name(n): at for n, at in held.items() if pupil_name(n) in setup.sticks}}


def held_at(held: Held) -> f.Formula:
    """The sticks are there."""
    return f.both(*(f.Compare(stick, op, at) for stick, at in held.items() for op in (">=", "<=")))
