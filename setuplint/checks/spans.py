"""The parts of a stick's travel that some state flies, where that hangs on the stick itself: a mode for its lower half."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import islice, pairwise, product

from setuplint.book.asking import Asking
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import DRAWN_IN, FULL, any_way, way_taken
from setuplint.checks.moves import held_at
from setuplint.checks.places import judged_answer
from setuplint.curves.flown import WHOLE, Span
from setuplint.curves.lines import LineCase
from setuplint.curves.sums import Shapes
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Setup, Term

MOST_SPANS = 100
MOST_BOXES = 500  # of several sticks
HALVINGS = 40


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


def led_case(
    ask: Asking,
    before: f.Formula,
    stick: str,
    target: Fraction,
    after: f.Formula,
    subject: str,
    line: LineCase | None = None,
    farther: Callable[[Frame, Frame], Rails] | None = None,
) -> Case | None:
    """A state with the one formula, and perhaps a case of a line, out of which a stick alone, put to a place, leads into one with
    the other, and perhaps more is so of the two. None where there is none, or it cannot be judged or decided (noted)."""
    ways = [()] if line is None else line.guards

    def rails(frame: Frame) -> Rails:
        there = frame.moved(sticks=ask.decider.at(**{stick: target})).with_ties_of(frame)
        more = [] if farther is None else [farther(frame, there)]
        return frame.all_of([way_taken(frame, before, ways), there.truth(after), (there.put, -there.put), *more])

    formulas = [any_way(before, ways), after]
    return judged_answer(ask, rails, ask.decider.cone(formulas), formulas, subject)


# -- where several sticks stand


def spots_of_sum(
    ask: Asking, channel: Channel, others: Shapes, least: Fraction, greatest: Fraction, *, closed: bool = False
) -> Iterator[dict[str, Fraction]]:
    """Places of sticks and knobs whose sum is between two numbers (or one of them, where that is `closed`): where all rest, then
    one in each part of their range in which no formula tells places apart. OutOfBudget where there are too many parts."""

    def is_inside(spot: Mapping[str, Fraction]) -> int:
        """0; -1 where the sum is too small, 1 where it is too great."""
        total = sum((shape.value(spot[name]) for name, shape in others), Fraction(0))
        if total < least or (total == least and not closed):
            return -1
        return int(total > greatest or (total == greatest and not closed))

    rest = {name: ask.setup.sticks[name].rest for name, _ in others}
    if is_inside(rest) == 0:
        yield rest
    parts = [list(stretches(ask, channel, name)) for name, _ in others]
    boxes = list(islice(product(*parts), MOST_BOXES + 1))
    if len(boxes) > MOST_BOXES:
        raise OutOfBudget(f"formulas cut the range of the sticks of {channel.name} into more than {MOST_BOXES} parts")
    for box in boxes if others else ():
        ends = {name: (lo, hi, shape.extremes(lo, hi)) for (name, shape), (lo, hi) in zip(others, box, strict=True)}
        low, high = Fraction(0), Fraction(1)
        for share in (low, high, *[None] * HALVINGS):
            at = (low + high) / 2 if share is None else share
            spot = {name: pair[0][0] + at * (pair[1][0] - pair[0][0]) for name, (_, _, pair) in ends.items()}
            side = is_inside(spot)
            if side == 0:
                yield next(
                    (near for places in range(9) if is_inside(near := rounded_spot(spot, ends, places)) == 0), spot
                )
                break
            if share is None:
                low, high = (at, high) if side < 0 else (low, at)
            elif side == (1 if share == low else -1):
                break  # even the least is too great, or the greatest too small


def rounded_spot(
    spot: Mapping[str, Fraction], ends: Mapping[str, tuple[Fraction, Fraction, object]], places: int
) -> dict[str, Fraction]:
    return {name: min(max(round(x, places), ends[name][0]), ends[name][1]) for name, x in spot.items()}


def stretches(ask: Asking, channel: Channel, stick: str) -> Iterator[Span]:
    """A stick's range, cut where formulas that decide on the channel, or say what is called, compare it: each cut, and what lies
    between them, open ends drawn in by a hair."""
    cuts = compared_at(ask, channel, stick)
    if len(cuts) > MOST_SPANS:
        raise OutOfBudget(f"formulas cut the travel of {stick} into more than {MOST_SPANS} parts")
    yield from ((x, x) for x in sorted(cuts))
    for low, high in pairwise(sorted({-FULL, *cuts, FULL})):
        gap = min(DRAWN_IN, (high - low) / 4)
        yield low + gap * (low in cuts), high - gap * (high in cuts)
