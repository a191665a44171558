"""Where the controls are at rest (MEANING.md 1), and round numbers to show."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction

from setuplint.dataclass import replace
from setuplint.fraction import fraction
from setuplint.plain.quiet import MOST_LOOKS, Quiet, TooManyLooks
from setuplint.plain.state import LOST, RANGES, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

MOST_NAMED = 5  # sensors
MOST_KNOWN = 4  # setups
Settled = tuple[State, list[str]]
_known: tuple[tuple[Setup, Settled], ...] = ()


def rest(setup: Setup) -> State:
    """The state of rest: receiver on, each sensor where the fewest alarms, then conditions, hold while all else is at rest.
    Past 100,000 looks at formulas, which only a file made for it takes, what is not yet looked at reads its greatest value:
    `rest_doubt` says so."""
    return _settled(setup)[0]


def rest_doubt(setup: Setup) -> str:
    """The end of a sentence, where sensors may read otherwise at rest than `rest` has it. Empty where none may."""
    left = _settled(setup)[1]
    if not left:
        return ""
    named = ", ".join(left[:MOST_NAMED]) + (f" and {len(left) - MOST_NAMED} more" if len(left) > MOST_NAMED else "")
    return f"to find what sensors read at rest takes more than {MOST_LOOKS:,} looks at formulas: {named} may read otherwise"


def _settled(setup: Setup) -> Settled:
    """The state of rest, and the sensors that were not looked at to the end. Asked of the same few setups again and again."""
    global _known
    found = next((found for known, found in _known if known is setup), None)
    if found is None:
        found = _put_to_rest(setup)
        _known = ((setup, found), *_known[: MOST_KNOWN - 1])
    return found


def _put_to_rest(setup: Setup) -> Settled:
    regions = dict(_regions(setup))
    quiet = Quiet(setup, {name: values[0] for name, values in regions.items()})
    left: list[str] = []
    for _ in range(3):  # until each is at rest with the others so
        before = dict(quiet.readings)
        for name, values in regions.items():
            if not quiet.is_spent:
                try:
                    quiet.put_to_rest(name, values)
                    continue
                except TooManyLooks:
                    pass
            left.append(name)
        if quiet.readings == before or left:
            break
    state = quiet.state()
    return replace(state, readings=dict(state.readings)), left


def shows_cell(setup: Setup, sensor: str) -> bool:
    return setup.cells_of(setup.sensors[sensor]) is not None


def _regions(setup: Setup) -> Iterator[tuple[str, list[Fraction | str]]]:
    """Of every sensor a value of each region, greatest first, and last "lost". Those of a balanced pack have the same regions,
    cut by the numbers of them all, and the same values: round ones of the last."""
    numbers: dict[str, set[Fraction]] = {}
    for atom in comparisons(setup):
        numbers.setdefault(atom.name, set()).add(atom.number)
    shown = {s.name: Fraction(n) for s in setup.sensors.values() if (n := setup.cells_of(s)) is not None}
    volts = {x / cells for name, cells in shown.items() for x in numbers.get(name, ())}
    unit = list(shown.values())[-1] if shown else Fraction(1)
    cell = [x / unit for x in _values(Fraction(0), 5 * unit, {x * unit for x in volts if 0 <= x <= 5}, unit)]
    for sensor in setup.sensors.values():
        if sensor.name in shown:
            yield sensor.name, [*(x * shown[sensor.name] for x in cell), LOST]
            continue
        lo, hi = RANGES[sensor.reads]
        yield sensor.name, [*_values(lo, hi, {x for x in numbers.get(sensor.name, ()) if lo <= x <= hi}), LOST]


def _values(lo: Fraction, hi: Fraction, cuts: set[Fraction], unit: Fraction = Fraction(1)) -> Iterator[Fraction]:
    ends = sorted({lo, *cuts, hi}, reverse=True)
    if hi in cuts:
        yield hi
    for high, low in itertools.pairwise(ends):
        yield sensible(low, high, low == lo and lo not in cuts, high == hi and hi not in cuts, unit)
        if low in cuts:
            yield low


def comparisons(setup: Setup) -> Iterator[f.Compare]:
    """Every comparison that the file's own formulas make."""
    formulas: list[f.Formula | None] = [
        setup.start,
        setup.start_warns,
        setup.intent.hold,
        setup.intent.stop,
        setup.intent.rescue,
    ]
    for condition in setup.conditions.values():
        formulas += [condition.when, condition.until]
    formulas += [mode.when for mode in setup.modes.values()]
    formulas += [override.when for override in setup.overrides.values()]
    formulas += [alarm.when for alarm in setup.alarms.values()]
    formulas += [timer.runs for timer in setup.timers.values()]
    formulas += [claim.never for claim in setup.claims]
    formulas += [lent for channel in setup.channels.values() for lent in channel.lendings]
    for formula in formulas:
        for atom in f.atoms(formula) if formula is not None else ():
            if isinstance(atom, f.Compare):
                yield atom


def sensible(lo: Fraction, hi: Fraction, lo_closed: bool, hi_closed: bool, unit: Fraction = Fraction(1)) -> Fraction:
    """A round value inside a stretch, near the threshold that bounds it rather than at the end of what a sensor can show;
    for a pack, near what a cell can really have."""
    reach = (hi - lo) / 10
    if hi_closed and not lo_closed and lo > 0:
        reach = min(reach, lo / 4)  # a sensor that counts to a million shows a little more than the threshold
    gap = reach / 100
    low, high = (lo if lo_closed else lo + gap), (hi if hi_closed else hi - gap)
    if lo_closed and not hi_closed:
        low = max(low, high - reach)
    elif hi_closed and not lo_closed:
        high = min(high, low + reach)
    elif lo_closed and hi_closed and low < 4 * unit < high:
        return 4 * unit if unit > 1 else round_inside(low, high, 6)
    return round_inside(low, high, 6)


def round_inside(lo: Fraction, hi: Fraction, places: int = 1) -> Fraction:
    """A round number in a closed stretch: a multiple of 10^places if there is one, else of ever smaller powers, the one
    nearest to zero of those."""
    if lo <= 0 <= hi:
        return fraction(0)
    if hi < 0:
        return -round_inside(-hi, -lo, places)
    top, bottom = lo.numerator, lo.denominator
    for place in range(places, -13, -1):
        up, down = (10**place, 1) if place >= 0 else (1, 10**-place)
        least = fraction(-(-top * down // (bottom * up)) * up, down)
        if least <= hi:
            return least
    return lo
