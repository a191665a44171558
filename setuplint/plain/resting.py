"""Where the controls are at rest (MEANING.md 1), and round numbers to show."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction

from setuplint.dataclass import replace
from setuplint.plain.evaluate import evaluate, truth
from setuplint.plain.state import LOST, RANGES, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

pass


def rest(setup: Setup) -> State:
    """The state of rest: receiver on, each sensor where the fewest alarms, then conditions, hold while all else is at rest."""
    own = {name: condition for name, condition in setup.conditions.items() if not condition.watches}
    quiet = replace(setup, channels={}, overrides={}, conditions=own)  # none of these has a part in it
    regions = {name: _regions(setup, name) for name in setup.sensors}
    picked = {name: values[0] for name, values in regions.items()}
    for _ in range(3):  # until each is at rest with the others so
        before = dict(picked)
        for name, values in regions.items():
            tried = [(_loudness(quiet, _state(setup, picked | {name: value})), n) for n, value in enumerate(values)]
            picked[name] = values[min(tried)[1]]
        if picked == before:
            break
    return _state(setup, picked)


def _state(setup: Setup, readings: dict[str, Fraction | str]) -> State:
    cell = Fraction(4)
    cells = {name: setup.cells_of(sensor) for name, sensor in setup.sensors.items()}
    for name, value in readings.items():
        count = cells[name]
        if isinstance(value, Fraction) and count is not None:
            cell = value / count
    shown = dict(readings)
    for name, count in cells.items():  # a balanced pack: they agree
        if count is not None and shown[name] != LOST:
            shown[name] = cell * count
    positions = {s.name: s.positions[0] for s in setup.switches.values()}
    return State(positions, {s.name: s.rest for s in setup.sticks.values()}, shown, cell)


def shows_cell(setup: Setup, sensor: str) -> bool:
    return setup.cells_of(setup.sensors[sensor]) is not None


def _loudness(setup: Setup, state: State) -> tuple[int, int]:
    evaluation = evaluate(setup, state)
    formulas = (a.when for a in setup.alarms.values() if a.audible)
    return (
        sum(truth(setup, when, state, evaluation) is not False for when in formulas),
        sum(value is not False for value in evaluation.conditions.values()),
    )


def _regions(setup: Setup, sensor: str) -> list[Fraction | str]:
    """A value of each region, greatest first, and last "lost"."""
    lo, hi = RANGES[setup.sensors[sensor].reads]
    cells = setup.cells_of(setup.sensors[sensor])
    unit = Fraction(1)
    if cells is not None:
        lo, hi, unit = Fraction(0), Fraction(5 * cells), Fraction(cells)
    cuts = sorted({a.number for a in comparisons(setup) if a.name == sensor and lo <= a.number <= hi})
    ends = [lo, *cuts, hi]
    values: list[Fraction | str] = []
    for low, high in reversed(list(itertools.pairwise(ends))):
        if high in cuts and high not in values:
            values.append(high)
        if low < high:
            values.append(sensible(low, high, low == lo and lo not in cuts, high == hi and hi not in cuts, unit))
    if lo in cuts:
        values.append(lo)
    return [*values, LOST]


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
    gap = (hi - lo) / 1000
    low, high = (lo if lo_closed else lo + gap), (hi if hi_closed else hi - gap)
    if lo_closed and not hi_closed:
        low = max(low, high - abs(hi - lo) / 10)
    elif hi_closed and not lo_closed:
        high = min(high, low + abs(hi - lo) / 10)
    elif lo_closed and hi_closed and low < 4 * unit < high:
        return 4 * unit if unit > 1 else round_inside(low, high, 6)
    return round_inside(low, high, 6)


def round_inside(lo: Fraction, hi: Fraction, places: int = 1) -> Fraction:
    """A round number in a closed stretch: a multiple of 10^places if there is one, else of ever smaller powers, the one
    nearest to zero of those."""
    if lo <= 0 <= hi:
        return Fraction(0)
    if hi < 0:
        return -round_inside(-hi, -lo, places)
    for step in (Fraction(10) ** n for n in range(places, -13, -1)):
        least = -(-lo // step) * step
        if least <= hi:
            return least
    return lo
