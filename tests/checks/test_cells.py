"""Charge by open-circuit voltage: the tables against the published parameter sets, as PyBaMM gives them.

What it gives is kept in cells.json. `.ci/run` works it out again, by make_cells.py, and compares.
"""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from setuplint.checks import cells
from tests.checks import make_cells
from tests.checks.make_cells import SETS, STEPS, differing, text_of

KEPT: dict[str, list[int]] = json.loads(make_cells.KEPT.read_text(encoding="utf-8"))
MICRO = 1e-6

# The figures that the rules' arithmetic was planned with, worked out from the same sets with PyBaMM 26.10 on another day:
# charge left in percent after a rest at a voltage a cell, and volts at 0, 5, 10, 15, 20, 30, 50, 80 and 100 % charge.
RESTED = {
    3.0: (0.0, 1.7, 0.0, 0.6, 0.9, 0.6, 3.3),
    3.3: (1.0, 5.1, 1.6, 2.7, 14.2, 2.1, 10.1),
    3.5: (2.7, 12.7, 4.2, 6.3, 30.7, 8.0, 21.8),
    3.6: (4.5, 21.0, 6.6, 10.2, 40.2, 22.2, 31.8),
    3.7: (33.2, 28.9, 20.9, 19.0, 51.9, 46.9, 44.3),
    3.8: (70.3, 55.7, 52.0, 43.4, 63.4, 60.3, 55.2),
}
SEVEN = ("Marquis2019", "Ecker2015", "Ai2020", "Ramadass2004", "NCA_Kim2011", "Mohtat2020", "Chen2020")
VOLTS = {
    "Marquis2019": (3.105, 3.6176, 3.6818, 3.6908, 3.6921, 3.6971, 3.7450, 3.8490, 4.1000),
    "Ecker2015": (2.500, 3.2938, 3.4586, 3.5277, 3.5870, 3.7094, 3.7873, 3.9868, 4.2000),
    "Ai2020": (3.000, 3.5421, 3.6396, 3.6654, 3.6954, 3.7331, 3.7925, 3.9945, 4.2000),
    "Ramadass2004": (2.800, 3.4462, 3.5955, 3.6663, 3.7063, 3.7522, 3.8266, 3.9977, 4.2000),
    "Prada2013": (2.000, 2.7853, 2.9781, 3.1080, 3.1685, 3.2058, 3.2660, 3.3097, 3.6000),
}
# Spans over the seven sets by the alarm's voltage and the sag, charge left in percent.
SPANS = {(3.3, 0.2): (2.7, 30.7), (3.5, 0.2): (19, 52), (3.7, 0.3): (76, 95)}


def test_the_kept_curves_are_of_these_sets_from_empty_to_full() -> None:
    assert set(KEPT) == set(SETS) == set(cells.TABLES)
    assert {len(figures) for figures in KEPT.values()} == {STEPS + 1}


@pytest.mark.parametrize("name", cells.TABLES)
def test_table_is_what_pybamm_gives(name: str) -> None:
    given = [KEPT[name][charge * STEPS // 100] * MICRO for charge in cells.CHARGE]
    table = np.array(cells.TABLES[name]) / cells.UNITS
    assert np.abs(table - given).max() < 0.6 / cells.UNITS


@pytest.mark.parametrize("name", cells.TABLES)
def test_straight_lines_between_are_near_the_curve(name: str) -> None:
    charge = np.linspace(0, 1, STEPS + 1)
    given = np.array(KEPT[name]) * MICRO
    below, most = (3.25, 0.4) if name == "Prada2013" else (3.85, 0.7)
    where = given < below
    assert where.sum() > 50
    ours = np.array([float(cells.charge_table(name, Fraction(volts))) for volts in given[where]])
    assert np.abs(ours - 100 * charge[where]).max() < most


def test_a_figure_that_is_not_as_kept_is_told() -> None:
    assert differing(KEPT, KEPT) == []
    off = {**KEPT, "Chen2020": [*KEPT["Chen2020"][:-1], KEPT["Chen2020"][-1] + 2]}
    assert differing(off, KEPT) == ["Chen2020 at 100 %: 4200002 µV, not 4200000"]
    assert differing({"Chen2020": KEPT["Chen2020"]}, KEPT) != []
    assert json.loads(text_of(KEPT)) == KEPT


@pytest.mark.parametrize("volts", RESTED)
def test_charge_after_a_rest(volts: float) -> None:
    ours = [float(cells.charge_table(name, Fraction(str(volts)))) for name in SEVEN]
    assert ours == pytest.approx(RESTED[volts], abs=0.7)


@pytest.mark.parametrize("name", VOLTS)
def test_open_circuit_volts(name: str) -> None:
    ours = [float(cells.charge_table(name, Fraction(str(volts)))) for volts in VOLTS[name]]
    assert ours == pytest.approx([0, 5, 10, 15, 20, 30, 50, 80, 100], abs=0.3)


@pytest.mark.parametrize("alarm", SPANS)
def test_span_of_the_seven_sets_by_alarm_and_sag(alarm: tuple[float, float]) -> None:
    rest = Fraction(str(alarm[0])) + Fraction(str(alarm[1]))
    left = [float(cells.charge_table(name, rest)) for name in SEVEN]
    assert (min(left), max(left)) == pytest.approx(SPANS[alarm], abs=0.7)


def test_sets_of_a_chemistry() -> None:
    assert cells.SETS["lipo"] == cells.SETS["lihv"] == SEVEN[:4]
    assert cells.SETS["li-ion"] == SEVEN[4:]
    assert {name for names in cells.SETS.values() for name in names} == set(cells.TABLES)


@pytest.mark.parametrize("name", cells.TABLES)
def test_tables_rise_and_keep_their_ends(name: str) -> None:
    table = cells.TABLES[name]
    assert len(table) == len(cells.CHARGE)
    assert all(low < high for low, high in pairwise(table))
    assert cells.charge_table(name, Fraction(0)) == cells.charge_table(name, Fraction(table[0], cells.UNITS)) == 0
    assert cells.charge_table(name, Fraction(5)) == cells.charge_table(name, Fraction(table[-1], cells.UNITS)) == 100


def test_median_of_four_and_of_three() -> None:
    """At 3.6 V: 4.5, 6.6, 10.2 and 21.0 %, so the median is 8.4; the Li-ion cells 22.2, 31.8 and 40.2 %."""
    lipo, ion = cells.charge_left("lipo", Fraction("3.6")), cells.charge_left("li-ion", Fraction("3.6"))
    assert [float(x) for x in lipo] == pytest.approx([4.5, 8.4, 21.0], abs=0.3)
    assert [float(x) for x in ion] == pytest.approx([22.2, 31.8, 40.2], abs=0.4)


def test_what_two_voltages_give_up() -> None:
    """Its ends are those of single cells, its middle the difference of the medians."""
    given = cells.charge_between("li-ion", Fraction("3.6"), Fraction("3.3"))
    assert float(given.least) == pytest.approx(22.2 - 2.1, abs=0.7)
    assert float(given.most) == pytest.approx(40.2 - 14.2, abs=0.7)
    assert (
        given.median
        == cells.charge_left("li-ion", Fraction("3.6")).median - cells.charge_left("li-ion", Fraction("3.3")).median
    )
