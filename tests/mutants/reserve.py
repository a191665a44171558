"""The judge of the time that an alarm leaves, by published cells as PyBaMM gives them (tests/checks/cells.json)."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import numpy as np

from tests.oracle.formula import Compare, Condition

from .grid import through
from .reach import Reach, Verdict
from .warnings import (
    FLOOR,
    PACK,
    battery,
    chemistry,
    delay_of,
    listening,
    out_of_range,
    thresholds,
    voltage_alarm_below_floor,
)

CURVES = json.loads((Path(__file__).parents[1] / "checks" / "cells.json").read_text(encoding="utf-8"))
POLYMER = ("Marquis2019", "Ecker2015", "Ai2020", "Ramadass2004")
SETS = {"lipo": POLYMER, "lihv": POLYMER, "li-ion": ("NCA_Kim2011", "Mohtat2020", "Chen2020"), "life": ("Prada2013",)}
WANTED, NEAR = 40.0, 4.0  # seconds; nearer than that to the limit the two tables may differ


def median_charge(kind: str, volts: float) -> float:
    """Percent, the median of a chemistry's cells at rest."""
    left = [np.interp(volts * 1e6, CURVES[n], np.linspace(0, 100, len(CURVES[n]))) for n in SETS[kind]]
    return float(np.median(left))


def seconds_left(reach: Reach, cell: Fraction, sag: float) -> float:
    capacity, current = battery(reach, "capacity-mah"), battery(reach, "hover-current-a")
    assert capacity
    assert current
    kind, floor = str(chemistry(reach)), float(FLOOR[str(chemistry(reach))])
    used = median_charge(kind, float(cell) + sag) - median_charge(kind, floor + sag)
    return used / 100 * float(capacity) * 3.6 / float(current)


def is_plain(reach: Reach, alarm: str) -> bool:
    """One comparison with the pack, through conditions that remember nothing and do not linger."""
    leaves = list(through(reach.world, reach.world.alarms[alarm]))
    compared = [x for x in leaves if isinstance(x, Compare)]
    named = [reach.world.conditions[x.name] for x in leaves if isinstance(x, Condition)]
    alone = len(compared) == 1 and len(compared) + len(named) == len(leaves)
    falling = len(thresholds(reach, alarm)) == 1  # not one that a `not` turns round: it sounds until the pack falls
    return alone and falling and not any(c.stays or c.remembers for c in named)


def voltage_alarm_late(reach: Reach) -> Verdict:
    """Every alarm of the pack leaves too little time, or waits too long. Judged where each is one comparison."""
    sounding = [a for a in listening(reach, *PACK) if a in reach.sounding()]
    below = voltage_alarm_below_floor(reach)
    if below or not sounding:
        return False
    if below is None or any(out_of_range(reach, a) for a in reach.world.alarms.values()):
        return None
    if not all(is_plain(reach, a) for a in sounding):
        return None
    cells, resistance = reach.world.cells, battery(reach, "resistance-mohm")
    current = battery(reach, "hover-current-a")
    if not cells or not current or not battery(reach, "capacity-mah"):
        return None
    sags = np.linspace(0, 0.4, 201) if resistance is None else [float(current * resistance / 1000 / cells)]
    for alarm in sounding:
        (cell,), wait = thresholds(reach, alarm), float(delay_of(reach, alarm))
        left = max(seconds_left(reach, cell, float(sag)) for sag in sags) - wait
        if wait <= 5 and abs(left - WANTED) < NEAR:
            return None
        if wait <= 5 and left >= WANTED:
            return False
    return True
