"""output-clipped on a swashplate: no servo is asked for more than it has, against plain trigonometry over all states."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from math import cos, hypot, radians, sin
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import setuplint
from setuplint.findings import Finding
from setuplint.plain.evaluate import evaluate
from setuplint.plain.state import OFF, State
from setuplint.setup.model import Setup
from tests.checks.linted import TEXT, said, unjudged
from tests.rules.edits import edited

F = Fraction
CLIPPED = "output-clipped"
ARMS = {
    "two-90": (0, 90), "three-120": (0, 120, 240), "three-135": (0, 135, 225), "three-140": (0, 140, 220),
    "four-90": (0, 90, 180, 270),
}  # fmt: skip


def nose() -> dict[str, Any]:
    return {"channels.nose": {"number": 2, "drives": "elevator", "from": "elevator"}, "failsafe.nose": 0}


def plain() -> dict[str, Any]:
    return {**nose(), "channels.roll": {"number": 1, "drives": "aileron", "from": "aileron"}}


def plate(servos: str, collective: float, cyclic: float, ring: float | None = None) -> dict[str, Any]:
    table = {"servos": servos, "collective": collective, "cyclic": cyclic}
    return {"swash": table if ring is None else {**table, "ring": ring}}


def travels(swash: dict[str, Any], c: float, a: float, e: float) -> list[float]:
    """Plain trigonometry."""
    if "ring" in swash and hypot(a, e) > swash["ring"]:
        a, e = (x * swash["ring"] / hypot(a, e) for x in (a, e))
    up, lean = swash["collective"] / 100, swash["cyclic"] / 100
    if swash["servos"] == "one":
        return [up * c, lean * a, lean * e]
    return [up * c + lean * (a * sin(radians(x)) + e * cos(radians(x))) for x in ARMS[swash["servos"]]]


def outputs(finding: Finding) -> tuple[float, float, float]:
    pitch, roll, nose = (float(finding.outputs[name]) for name in ("pitch", "roll", "nose"))
    return pitch, roll, nose


@pytest.mark.parametrize(
    ("edit", "asked"),
    [
        (plate("three-120", 60, 55), 60 + 55 * (sin(radians(120)) + 0.5)),
        (plate("three-120", 60, 55, 100), 115),
        (plate("three-120", 60, 40, 100), None),
        (plate("three-120", 60, 40.5, 100), 100.5),
        (plate("three-135", 60, 40, 100), None),
        (plate("three-135", 50, 36), 50 + 36 * 2**0.5),
        (plate("three-135", 50, 35), None),
        (plate("three-140", 50, 36), 50 + 36 * (sin(radians(40)) + cos(radians(40)))),
        (plate("four-90", 60, 40), None),
        (plate("four-90", 60, 40.1), 100.1),
        (plate("two-90", 60, 41), 101),
        (plate("one", 100, 100), None),
        (plate("one", 50, 101), 101),
        (plate("one", 50, 150, 60), None),
        (plate("three-120", 60, 55, 150), 60 + 55 * (sin(radians(120)) + 0.5)),
        (plate("three-120", -60, 55, 100), 115),
    ],
)
def test_full_collective_with_full_cyclic(edit: dict[str, Any], asked: float | None) -> None:
    found = said(CLIPPED, {**plain(), **edit})
    assert bool(found) == (asked is not None)
    for finding in found:
        assert asked is not None
        shown = max(abs(x) for x in travels(edit["swash"], *outputs(finding)))
        assert shown == pytest.approx(asked, abs=0.25)
        assert shown > 100
        assert f"is asked for {round(shown, 1):g} % of its travel" in finding.message


def test_message_and_places() -> None:
    (finding,) = said(CLIPPED, {**plain(), **plate("three-120", 60, 45)})
    assert finding.message == (
        "the servo 120° from the nose is asked for 121.5 % of its travel with pitch -100 %, roll -100 %, nose +100 %: -60 "
        "from the collective and -61.5 from aileron and elevator; it stops at 100"
    )
    assert (finding.subject, finding.primary.path) == ("swash", ("swash", "cyclic"))
    (finding,) = said(CLIPPED, {**plain(), **plate("three-120", 60, 45, 100)})
    assert "held to the ring" not in finding.message
    assert finding.witness["flight"] == "idle-up-1", "the calm pitch goes to +80 only"


def test_one_finding_for_the_plate_and_channels_by_themselves() -> None:
    edit = {**plain(), **plate("four-90", 60, 50), "channels.nose.mix": [{"from": "rudder", "rate": 70}]}
    assert [x.subject for x in said(CLIPPED, edit)] == ["nose", "swash"]


def test_travel_of_the_channels_counts_and_overrides_do() -> None:
    edit = {**plain(), **plate("four-90", 60, 40), "channels.roll.travel": [100, 103]}
    (finding,) = said(CLIPPED, edit)
    assert outputs(finding)[1] == 103
    rescue = {"channel": "pitch", "value": 110, "when": "save is pulled"}
    (finding,) = said(CLIPPED, {**plain(), **plate("four-90", 60, 40), "overrides.up": rescue})
    assert finding.outputs["pitch"] == 110
    assert finding.witness["save"] == "pulled"


def test_modes_that_take_the_worst_corner_apart() -> None:
    """Full pitch and full cyclic, each in a mode of its own."""
    edit = {
        **plain(),
        **plate("four-90", 60, 40.5),
        "channels.roll.in.idle-up.rate": 50,
        "channels.nose.in.idle-up.rate": 50,
    }
    assert said(CLIPPED, edit) == []
    (finding,) = said(CLIPPED, {**edit, "curves.pitch-calm.points": [[-100, -20], [0, 30], [100, 100]]})
    assert finding.witness["flight"] == "normal"


def test_thresholds_keep_the_sticks_from_the_corner() -> None:
    """Full cyclic only in a mode that full pitch leaves: 30 + 0.7 x throttle of pitch, 60 % of it, and 40.5."""
    calm = {"channels.roll.in.idle-up.rate": 50, "channels.nose.in.idle-up.rate": 50}
    for limit, speaks in ((50, False), (98, False), (99.5, True)):
        edit = {**plain(), **plate("four-90", 60, 40.5), **calm}
        edit["curves.pitch-calm.points"] = [[-100, -20], [0, 30], [100, 100]]
        edit["modes.normal.when"] = f"flight is normal and throttle < {limit}"
        found = said(CLIPPED, edit)
        assert bool(found) == speaks, limit
        assert all(99 < x.witness["throttle"] < 99.5 for x in found)  # type: ignore[operator]


def test_one_stick_in_two_demands() -> None:
    """Pitch takes elevator away: full pitch leaves half the elevator. Found where they meet, and only if they do."""
    shared = {**plain(), "channels.nose": {"drives": "elevator", "from": "elevator", "rate": 50, "mix": [
        {"from": "throttle", "rate": 50, "curve": "peak"}]}, "curves.peak": {"points": [[-100, -100], [0, 100], [100, -100]]},
        "channels.roll": {"drives": "aileron", "from": 0}}  # fmt: skip
    edit = {**shared, **plate("four-90", 60, 40)}
    best = max(
        max(abs(x) for x in travels(edit["swash"], pitch, 0, nose))
        for throttle in range(-100, 101)
        for nose in (50 * (1 - abs(throttle) / 50) + side for side in (-50, 50))
        for pitch in (-100 + (throttle + 100) * 1.2 if throttle < 0 else 20 + throttle * 0.8,)
    )
    found = said(CLIPPED, edit)
    assert bool(found) == (best > 100), best
    for finding in found:
        assert max(abs(x) for x in travels(edit["swash"], *outputs(finding))) == pytest.approx(best, abs=0.3)


def test_what_is_missing_is_not_judged() -> None:
    for key in ("collective", "cyclic"):
        table = {"swash.servos": "three-120", f"swash.{key}": 90}
        (why,) = unjudged(CLIPPED, {**plain(), **table})
        assert why == f"swash.{'cyclic' if key == 'collective' else 'collective'} is not given"
    edit = {**plain(), **plate("three-120", 60, 55)}
    bare = {**edit, "channels.nose": {"number": 2, "drives": "elevator"}}
    assert unjudged(CLIPPED, bare) == ["channels.nose.from is not given"]
    twice = {**edit, "channels.nose-2": {"drives": "elevator", "from": "elevator"}}
    assert unjudged(CLIPPED, twice) == ["several channels drive the elevator: nose, nose-2"]
    assert unjudged(CLIPPED, {**edit, "channels.pitch.from": "thrttle"}) == ["channels.pitch cannot be read"]
    assert unjudged(CLIPPED, plain()) == []


def states(setup: Setup, steps: int) -> Any:
    """All positions, sticks on a grid."""
    grid = [F(-100) + F(200 * n, steps) for n in range(steps + 1)]
    names = [s.name for s in setup.switches.values() if s.name in ("flight", "rates")]
    for picked in product(*(setup.switches[n].positions for n in names)):
        positions = {s.name: s.positions[0] for s in setup.switches.values()} | dict(zip(names, picked, strict=True))
        for a, e, t in product(grid, grid, (F(-100), F(0), F(100))):
            sticks = {"throttle": t, "aileron": a, "elevator": e, "rudder": F(0)}
            yield State(positions, sticks, dict.fromkeys(setup.sensors, "unheard"))


@pytest.mark.slow
@settings(max_examples=12)
@given(
    st.sampled_from(("one", *ARMS)),
    st.integers(20, 80),
    st.integers(20, 80),
    st.none() | st.integers(40, 140),
    st.integers(60, 100),
    st.integers(60, 100),
    st.integers(0, 40),
)
def test_agrees_with_dense_sampling_of_the_states(
    servos: str, collective: int, cyclic: int, ring: int | None, roll: int, pitch: int, mix: int
) -> None:
    """By the plain evaluator and plain trigonometry: silent means that no sample is over 100; a finding, that its own state
    is, and that no sample is worse by a point."""
    edit = {**nose(), **plate(servos, collective, cyclic, ring)}
    edit["channels.roll"] = {
        "drives": "aileron",
        "from": "aileron",
        "rate": {"switch": "rates", "at": {"soft": 60, "full": roll}},
    }
    edit["channels.nose"] = {
        "drives": "elevator",
        "from": "elevator",
        "rate": pitch,
        "mix": [{"from": "aileron", "rate": mix}],
    }
    setup = setuplint.load_text(edited(TEXT, edit)).model
    sampled = 0.0
    for state in states(setup, 4):
        put_out = evaluate(setup, state, OFF).outputs
        demand = [float(put_out[name] or 0) for name in ("pitch", "roll", "nose")]
        sampled = max(sampled, *(abs(x) for x in travels(edit["swash"], *demand)))
    found = [x for x in said(CLIPPED, edit) if x.subject == "swash"]
    if not found:
        assert sampled <= 100 + 1e-6
        return
    (finding,) = found
    shown = max(abs(x) for x in travels(edit["swash"], *outputs(finding)))
    assert shown > 100
    assert sampled <= shown + 0.3
