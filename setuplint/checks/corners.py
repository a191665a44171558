"""The farthest places of several sticks, found by arithmetic, as states that can be reached."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import islice, pairwise, product

from setuplint.book.asking import Asking
from setuplint.budget import OutOfBudget
from setuplint.checks.places import judged_answer
from setuplint.curves.flown import Span
from setuplint.curves.lines import YES, Guards
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails
from setuplint.setup import formulas as f

Sticks = Mapping[str, Span]  # from where to where
Spot = Mapping[str, Fraction]

FULL = Fraction(100)
HAIR = Fraction(1, 1_000_000)  # percent: outputs are rounded to it
NEAR = (Fraction(1, 20), HAIR)  # percent: how near to a place a state is asked for, a round one first
DRAWN_IN = Fraction(1, 10**8)  # percent
MOST_CELLS = 500
MOST_LOOKS = 200


class Looks:
    """How many questions a search may still put to the engine."""

    def __init__(self) -> None:
        self.left = MOST_LOOKS

    def one(self) -> None:
        if not self.left:
            raise OutOfBudget(f"more than {MOST_LOOKS} places of the sticks would have to be looked at")
        self.left -= 1


def mode_is(ask: Asking, mode: str | None) -> f.Formula:
    return f.ModeIs(mode) if mode else f.both(*(f.Not(f.ModeIs(name)) for name in ask.setup.modes))


def line_goes_on(ask: Asking, channel: str) -> f.Formula:
    """Its own line decides, or an override that limits the line and lets it go on; one that cannot be read may be such."""
    mine = ask.setup.acting_on(channel)
    limits = (o.name for o in mine if o.limits)
    unread = (o.name for o in mine if ask.broken("overrides", o.name))
    perhaps = (f.both(f.Decides(channel, o), f.Unknown(ask.setup.lacking("overrides", o))) for o in unread)
    return f.either(*(f.Decides(channel, name) for name in (None, *limits)), *perhaps)


def cells(ask: Asking, channels: Sequence[str], sticks: Sticks) -> list[Sticks]:
    """The sticks' whole range, cut where a formula that modes, conditions or these channels' overrides hang on compares
    them: in a cell no such comparison changes, so one place of it can be reached if another can. Open ends are drawn in by
    a hair. OutOfBudget where there are too many."""
    spans = {name: list(stretches(ask, channels, name)) for name in sticks}
    picked = list(islice(product(*spans.values()), MOST_CELLS + 1))
    if len(picked) > MOST_CELLS:
        raise OutOfBudget(f"formulas cut the sticks' range into more than {MOST_CELLS} parts")
    return [dict(zip(spans, cell, strict=True)) for cell in picked]


def stretches(ask: Asking, channels: Sequence[str], stick: str) -> Iterator[Span]:
    cuts = sorted({x for channel in channels for x in ask.decider.thresholds(channel, stick)})
    yield from ((x, x) for x in cuts)
    for low, high in pairwise(sorted({-FULL, *cuts, FULL})):
        gap = min(DRAWN_IN, (high - low) / 4)
        yield low + gap * (low in cuts), high - gap * (high in cuts)


def cases(
    ask: Asking, looks: Looks, given: f.Formula, guards: Guards, spot: Spot, cell: Sticks | None, subject: str
) -> Iterator[Case]:
    """States with the sticks near a spot (in a cell), switches and unknown smoothings as the guards say: one at round
    places, then one as near as can be told. None where there is no such state, or it cannot be judged (noted).
    OutOfBudget after too many looks."""
    for near in NEAR:
        looks.one()
        parts = [given]
        for name, x in spot.items():
            low, high = (-FULL, FULL) if cell is None else cell[name]
            parts += [f.Compare(name, ">=", max(x - near, low)), f.Compare(name, "<=", min(x + near, high))]
        case = guarded_case(ask, f.both(*parts), [guards], subject)
        if case is None:
            return
        yield case


def guard_formulas(guards: Guards) -> Iterator[f.Formula]:
    """The switches stand so, and the sticks are lent or not."""
    for kind, name, choice in guards:
        if kind == "switch":
            yield f.SwitchIs(name, choice)
        elif kind == "lent":
            yield name if choice == YES else f.Not(name)


def guarded_case(ask: Asking, given: f.Formula, ways: Sequence[Guards], subject: str) -> Case | None:
    """A state in which the formula holds, switches and unknown smoothings as one of the ways says; None where there is none,
    or it cannot be judged or decided (noted)."""
    asked = any_way(given, ways)
    return judged_answer(ask, lambda frame: way_taken(frame, given, ways), ask.decider.cone([asked]), [asked], subject)


def any_way(given: f.Formula, ways: Sequence[Guards]) -> f.Formula:
    """What a state in which the formula holds, and the controls stand as one of the ways says, rests on."""
    return f.both(given, f.either(*(f.both(*guard_formulas(way)) for way in ways)))


def way_taken(frame: Frame, given: f.Formula, ways: Sequence[Guards]) -> Rails:
    """The formula holds, and one of the ways is taken: whether a stick is lent may not be known, how a curve is smoothed is."""

    def taken(way: Guards) -> Rails:
        smoothed = frame.both(frame.guard(guard) for guard in way if guard[0] == "smoothing")
        return frame.all_of([frame.truth(f.both(given, *guard_formulas(way))), (smoothed, -smoothed)])

    return frame.any_of(taken(way) for way in ways)
