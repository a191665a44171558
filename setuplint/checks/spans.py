"""The parts of a stick's travel that some state flies, where that hangs on the stick itself: a mode for its lower half."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from setuplint.book.asking import Asking
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import FULL
from setuplint.checks.moves import held_at
from setuplint.checks.places import judged_answer
from setuplint.curves.flown import WHOLE, Span
from setuplint.engine.answers import Case
from setuplint.engine.literals import TRUE, Frame, Rails
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Setup, Term

MOST_SPANS = 100


def flying_stick(setup: Setup, names: Iterable[str]) -> str | None:
    """Of the sticks and knobs that a line reads the one that flies it: the throttle, or the pupil's; without it another stick,
    then a knob."""

    def rank(name: str) -> tuple[bool, bool, str]:
        stick = setup.sticks[name]
        return stick.knob, (stick.pupil_of or name) != "throttle", name

    return min(names, key=rank, default=None)


def flown_spans(ask: Asking, channel: Channel, stick: str, given: f.Formula) -> tuple[Span, ...]:
    """Where the stick is in the states with `given` that fly the channel, from where to where, in order, ends and borders
    included: all its travel, with no question, where no formula that could matter compares it. Single places are left out;
    what is not judged or not decided counts as flown. OutOfBudget where formulas cut it into too many parts."""
    cuts = compared_at(ask, channel, stick)
    if not cuts:
        return WHOLE
    if len(cuts) > MOST_SPANS:
        raise OutOfBudget(f"formulas cut the travel of {stick} into more than {MOST_SPANS} parts")
    found: list[Span] = []
    for low, high in pairwise(sorted({-FULL, *cuts, FULL})):
        if ask.decider.find(f.both(given, f.Compare(stick, ">", low), f.Compare(stick, "<", high))).impossible:
            continue
        if found and found[-1][1] == low:
            low = found.pop()[0]
        found.append((low, high))
    return tuple(found)


def read_spans(ask: Asking, channel: Channel, term: Term, given: f.Formula) -> tuple[Span, ...]:
    """The same of the stick or knob that a term reads: a pupil's goes everywhere. Noted where formulas cut it too often."""
    stick, lending = str(term.source), term.lending
    if not compared_at(ask, channel, stick):
        return WHOLE
    if lending is not None and not ask.decider.find(f.both(given, lending.lent)).impossible:
        return WHOLE
    try:
        return flown_spans(ask, channel, stick, given)
    except OutOfBudget as end:
        ask.undecided.append((channel.name, str(end)))
        return ()


def compared_at(ask: Asking, channel: Channel, stick: str) -> set[Fraction]:
    """Where formulas that decide on the channel, or say what is called, compare the stick."""
    intent = ask.setup.intent
    called = [formula for formula in (intent.hold, intent.stop, intent.rescue) if formula is not None]
    atoms = (atom for formula in called for atom in f.atoms(formula))
    own = {a.number for a in atoms if isinstance(a, f.Compare) and a.name == stick and -FULL <= a.number <= FULL}
    return own | set(ask.decider.thresholds(channel.name, stick))


def flown_rest(ask: Asking, channel: Channel, stick: str, given: f.Formula) -> Fraction:
    """A stick's or knob's rest; where no state with `given` flies the channel there, a place near it where one does."""
    rest = ask.setup.sticks[stick].rest
    if not compared_at(ask, channel, stick) or not ask.decider.find(f.both(given, held_at({stick: rest}))).impossible:
        return rest
    inner = (place for span in flown_spans(ask, channel, stick, given) for place in drawn_in(span))
    return min(inner, key=lambda x: abs(x - rest), default=rest)


def drawn_in(span: Span) -> Iterator[Fraction]:
    """Its ends, as a pilot can tell them from what lies beyond."""
    low, high = span
    step = min(Fraction(1), (high - low) / 2)
    yield from (low + step, high - step)


def is_flown_at(spans: Sequence[Span], place: Fraction) -> bool:
    return any(low <= place <= high for low, high in spans)


def within(spans: Sequence[Span], low: Fraction, high: Fraction) -> list[Span]:
    """What of the spans lies between two places, single places left out."""
    parts = ((max(a, low), min(b, high)) for a, b in spans)
    return [(a, b) for a, b in parts if a < b]


def anywhere(_: Frame) -> int:
    return TRUE


def led_case(
    ask: Asking, before: f.Formula, stick: str, target: Fraction, after: f.Formula, subject: str,
    beside: Callable[[Frame], int] = anywhere,
) -> Case | None:  # fmt: skip
    """A state with the one formula out of which a stick alone, put to a place, leads into one with the other; `beside` is a
    literal of the first that must hold too. None where there is none, or it cannot be judged or decided (noted)."""

    def rails(frame: Frame) -> Rails:
        there = frame.moved(sticks=ask.decider.at(**{stick: target}))
        there.ties = frame.ties
        also = beside(frame)
        return frame.all_of([frame.truth(before), there.truth(after), (also, -also)])

    return judged_answer(ask, rails, ask.decider.cone([before, after]), [before, after], subject)
