"""What explains readings: the single changes of a setup that give just these, tried one after the other.

A change explains them if every reading that differs comes out with it, and none that agreed comes out otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice

from setuplint.bench.card_model import GONE
from setuplint.dataclass import replace
from setuplint.records.checked import NEAR, Compared, Explained, RecordCheck, is_near
from setuplint.records.slips import Dial, Slip, dials, outputs_of, plain_slips, turned
from setuplint.setup.model import Setup

MOST_TRIED = 40_000  # evaluations of a state, those of a large setup counting for more
PARTS = 30  # of a setup whose evaluation counts twice
MOST_TOLD = 4  # explanations
MOST_AGREEING = 400  # readings that a change must leave as they are, the channels that differ first
SOLVED_AGAIN = 3  # times
MOST_SOLVED = 12  # readings that a number is solved for


class _Tries:
    """A count of evaluations."""

    def __init__(self, setup: Setup) -> None:
        self.left: float = MOST_TRIED
        self.cost = 1 + sum(map(len, (setup.channels, setup.overrides, setup.conditions, setup.modes))) / PARTS

    def gives(self, change: Slip, all_of: Sequence[Compared]) -> bool:
        """Whether every reading comes out with the change."""
        for each in all_of:
            self.left -= self.cost
            if self.left < 0:
                return False
            put = change.outputs(each.here.state, each.here.memory).get(each.channel)
            if put is None or abs(put - each.read) > NEAR:
                return False
        return True


def explained_check(setup: Setup, check: RecordCheck) -> RecordCheck:
    """With what explains the readings that differ."""
    return replace(check, explained=tuple(explanations(setup, check)))


def explanations(setup: Setup, check: RecordCheck) -> Iterator[Explained]:
    """What explains all that differs together; where nothing does, what explains each channel by itself."""
    differing = [each for each in check.differing if each.here.kind != GONE]
    gone = [each for each in check.differing if each.here.kind == GONE]
    tries = _Tries(setup)
    if differing:
        whole = _explained(setup, differing, check, tries)
        names = list(dict.fromkeys(each.channel for each in differing))
        if whole.because or len(names) == 1:
            yield whole
        else:
            yield from (_explained(setup, [x for x in differing if x.channel == name], check, tries) for name in names)
    for name in dict.fromkeys(each.channel for each in gone):
        yield Explained((name,), (f"the receiver was taught something else for {name}: teach its failsafe again",))


def _explained(setup: Setup, differing: list[Compared], check: RecordCheck, tries: _Tries) -> Explained:
    names = tuple(dict.fromkeys(each.channel for each in differing))
    scales = list(_scales(setup, differing))
    if scales:
        return Explained(names, tuple(scales))
    agreeing = sorted((x for x in check.agreeing if x.here.kind != GONE), key=lambda x: x.channel not in names)
    kept = agreeing[:MOST_AGREEING]
    found = list(dict.fromkeys(each.words for each in _fitting(setup, differing, kept, names, tries)))
    return Explained(names, tuple(found), tries.left < 0)


def _fitting(
    setup: Setup, differing: Sequence[Compared], kept: Sequence[Compared], names: Sequence[str], tries: _Tries
) -> Iterator[Slip]:
    """The changes that explain it, a few: numbers only where nothing plainer does."""

    def fits(change: Slip) -> bool:
        return tries.gives(change, differing) and tries.gives(change, kept)

    plain = list(islice(filter(fits, plain_slips(setup, names)), MOST_TOLD))
    yield from plain
    told = 0
    for dial in () if plain else dials(setup, names):
        change = next((each for each in _solved(dial, differing, tries) if fits(each)), None)
        if change is not None:
            yield change
            told += 1
        if told == MOST_TOLD or tries.left < 0:
            return


def _scales(setup: Setup, differing: Sequence[Compared]) -> Iterator[str]:
    """Numbers that were typed on another scale than the record says: both readings of a number are tried."""
    centre, each_percent = setup.craft.pulse_centre, setup.craft.pulse_per_percent
    straight: list[tuple[str, Fraction, Fraction]] = [
        ("from 0 to 100", Fraction(2), Fraction(-100)),
        ("from -100 to +100", Fraction(1, 2), Fraction(50)),
        ("of pulses in µs", 1 / each_percent, -centre / each_percent),
    ]
    for words, factor, added in straight:
        if all(is_near(each.card, each.read * factor + added) for each in differing):
            yield f"the numbers were read on the scale {words}: then all is as it should be"


def _solved(dial: Dial, differing: Sequence[Compared], tries: _Tries) -> list[Slip]:
    """The dial turned to where the reading comes out on which it has most effect: a whole number first, as that is what
    hands enter."""
    best, at, most = Fraction(0), dial.now, None
    for wanted in differing[:MOST_SOLVED]:
        tries.left -= 3 * tries.cost
        for step in (1, -1):  # at a limit it moves one way only
            found = _slope(dial, dial.now, step, wanted)
            if found is not None and abs(found[1]) > best:
                best, most = abs(found[1]), wanted
                at = dial.now + (wanted.read - found[0]) / found[1]
    for _ in range(SOLVED_AGAIN if most is not None else 0):  # outputs bend in a trim where there is expo
        tries.left -= 2 * tries.cost
        found = _slope(dial, round(at, 2), 1, most) if most is not None else None
        if most is not None and found is not None and found[1]:
            at = round(at, 2) + (most.read - found[0]) / found[1]
    if dial.limit and most is None:
        at = differing[0].read  # a limit that is not reached is nowhere felt
    tried = dict.fromkeys([Fraction(round(at)), round(at, 1)])
    return [turned(dial, value) for value in tried if dial.least <= value <= dial.most and value != dial.now]


def _slope(dial: Dial, value: Fraction, step: int, wanted: Compared) -> tuple[Fraction, Fraction] | None:
    """What the channel gives with the dial at a value, and how much more a point of the dial makes."""
    here, there = (_output_with(dial, each, wanted) for each in (value, value + step))
    return None if here is None or there is None else (here, (there - here) * step)


def _output_with(dial: Dial, value: Fraction, wanted: Compared) -> Fraction | None:
    if dial.trim:
        return turned(dial, value).outputs(wanted.here.state, wanted.here.memory).get(wanted.channel)
    return outputs_of(dial.setup(value), wanted.here.state, wanted.here.memory).get(wanted.channel)
