"""What is drawn of curves is what is flown; the smoothings are checked against scipy."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from scipy.interpolate import CubicSpline, PchipInterpolator

import setuplint
from setuplint.pages import charts
from setuplint.pages.charts import Chart, ChartLine
from setuplint.pages.curve_charts import channel_charts, curve_chart
from setuplint.setup.model import Setup

ROOT = Path(__file__).parent.parent.parent
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
STEEP = "[[-100, -90], [-50, -82], [0, 0], [50, 82], [100, 90]]"
SOFT = next(line for line in REFERENCE.splitlines() if line.startswith("points = [[-100, -100], [-50, -14]"))
FLAT = next(line for line in REFERENCE.splitlines() if line.startswith("points = [[-100, 45]"))


def model(old: str = "", new: str = "") -> Setup:
    assert old in REFERENCE
    setup = setuplint.load_text(REFERENCE.replace(old, new, 1))
    assert setup.problems == ()
    return setup.model


def of(setup: Setup, title: str) -> Chart:
    return next(chart for chart, _ in channel_charts(setup) if chart.title == title)


def line_of(setup: Setup, name: str = "normal") -> ChartLine:
    return next(line for line in of(setup, "motor over throttle").lines if line.name == name)


def with_points(points: str, smoothing: str) -> Setup:
    text = REFERENCE.replace(SOFT, f"points = {points}", 1).replace(
        'smoothing = "monotone"', f'smoothing = "{smoothing}"', 1
    )
    setup = setuplint.load_text(text)
    assert setup.problems == ()
    return setup.model


def test_the_hover_and_its_slope_are_those_of_scipy() -> None:
    line = line_of(model())
    x, y = zip(*[(-100, -100), (-50, -14), (0, 16), (50, 46), (100, 100)], strict=True)
    theirs = PchipInterpolator(x, y)
    assert line.hover is not None
    at, output, slope = line.hover
    assert (at, output) == (0, 16)
    assert float(slope) == pytest.approx(float(theirs.derivative()(0)), abs=1e-3)
    assert line.points == tuple((Fraction(a), Fraction(b)) for a, b in zip(x, y, strict=True))


def test_an_overshoot_is_marked_where_scipy_has_it() -> None:
    line = line_of(with_points(STEEP, "natural"))
    x, y = (-100, -50, 0, 50, 100), (-90, -82, 0, 82, 90)
    spline = CubicSpline(x, y, bc_type="natural")
    tops = [t for t in spline.derivative().roots(extrapolate=False) if spline(t) > 90]
    above = next(mark for mark in line.marks if mark.kind == "overshoot" and "above" in mark.note)
    (at, output) = above.places[0]
    assert float(at) == pytest.approx(tops[0], abs=1e-6)
    assert float(output) == pytest.approx(float(spline(tops[0])), abs=1e-6)
    assert above.level == 90
    assert [mark.kind for mark in line.marks if "below" in mark.note] == ["overshoot"]


@pytest.mark.parametrize("smoothing", ["none", "monotone"])
def test_nothing_is_marked_where_nothing_is(smoothing: str) -> None:
    assert line_of(with_points(STEEP, smoothing)).marks == ()


def test_a_dip_is_marked_at_both_ends_and_between() -> None:
    (mark,) = line_of(with_points("[[-100, -100], [-50, 22], [0, 16], [50, 60], [100, 100]]", "none")).marks
    assert mark.kind == "dip"
    assert mark.places == ((-50, 22), (0, 16))
    assert mark.along[0] == mark.places[0]
    assert mark.along[-1] == mark.places[1]
    assert "turns back by 6 points" in mark.note


def test_a_v_is_no_fault_in_idle_up_and_is_one_in_normal() -> None:
    valley = "points = [[-100, 80], [0, 45], [100, 80]]"
    assert [mark.kind for mark in line_of(model(FLAT, valley), "idle-up").marks] == ["valley"]
    assert [mark.kind for mark in line_of(with_points("[[-100, 80], [0, 45], [100, 80]]", "none")).marks] == ["dip"]


def test_what_is_not_known_is_drawn_in_every_way_that_it_may_be() -> None:
    setup = with_points(STEEP, "unknown")
    line = line_of(setup)
    assert len(line.others) == 2
    x, y = (-100, -50, 0, 50, 100), (-90, -82, 0, 82, 90)
    natural = CubicSpline(x, y, bc_type="natural")
    assert float(line.others[1].output(Fraction(25))) == pytest.approx(float(natural(25)), abs=1e-5)
    assert any("if it is smoothed as natural" in mark.note for mark in line.marks)
    assert len(re.findall(r'class="other s', charts.chart_drawing(of(setup, "motor over throttle")))) == 2


def test_rate_and_expo_are_in_what_is_drawn() -> None:
    setup = model('curve = "hover-soft"', 'curve = "hover-soft"\nrate = 50')
    line = line_of(setup)
    assert line.flown.output(Fraction(100)) == 46
    assert [x for x, _ in line.points] == [-100, 0, 100]


def test_letters_cover_neither_each_other_nor_a_ring() -> None:
    setup = with_points("[[-100, 90], [-20, 12], [0, 16], [20, 12], [100, 90]]", "natural")
    drawn = charts.chart_drawing(of(setup, "motor over throttle"))
    letters = [
        (float(x), float(y) - 4) for x, y in re.findall(r'<text x="([\d.]+)" y="([\d.]+)" class="mid letter', drawn)
    ]
    rings = [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="7"', drawn)]
    assert letters
    for number, (x, y) in enumerate(letters):
        for other in (*letters[number + 1 :], *rings):
            assert abs(x - other[0]) >= charts.NEAR_X or abs(y - other[1]) >= charts.NEAR_Y


def test_a_line_of_two_curves_leaves_each_to_be_drawn_alone() -> None:
    mixed = 'curve = "hover-soft"\nmix = [{ from = "rudder", curve = "pitch-calm" }]'
    setup = model('curve = "hover-soft"', mixed)
    titles = {chart.title: chart for chart, _ in channel_charts(setup)}
    assert "hover-soft" in titles
    assert titles["hover-soft"].remarks[-1] == "used by motor"
    with pytest.raises(KeyError):
        curve_chart(setup, "no-such")
