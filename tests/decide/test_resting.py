"""Where sensors are at rest: as trying every region by the plain evaluator says, and in time that grows with the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from setuplint.cli import main
from setuplint.library import lint, load_text
from setuplint.pages.report import report_page
from setuplint.plain.evaluate import evaluate, truth
from setuplint.plain.quiet import Quiet
from setuplint.plain.resting import _regions, rest, rest_doubt, sensible
from setuplint.plain.state import LOST, State
from setuplint.setup.model import Setup
from tests.fuzz import Writer
from tests.shapes import with_reference

MORE = """
[sensors.one]
reads = "cell-voltage"
[sensors.part]
reads = "pack-voltage"
cells = 3
[sensors.speed]
reads = "rotor-speed"
[conditions.low-or-fast]
when = "mode is idle-up and one < 3.3 or speed > 300"
until = "part > 11 and not speed > 1000"
[conditions.turned]
when = "not low-or-fast and not one is lost and one < 3.6"
toggles = true
[alarms.by-memory]
when = "turned or not one >= 4.1 or speed < 700 and part < 10"
tone = true
[alarms.by-mode]
when = "mode is normal or not part is lost"
tone = true
[modes.last]
when = "one < 3.5"
"""


def tried(setup: Setup) -> State:
    """The state of rest, by trying every region of one sensor after the other; what shows a cell's voltage goes along."""
    regions = dict(_regions(setup))
    picked = {name: values[0] for name, values in regions.items()}
    for _ in range(3):
        for name, values in regions.items():
            states = [_shown(setup, picked, name, value) for value in values]
            loud = [_loudness(setup, state) for state in states]
            picked = dict(states[loud.index(min(loud))].readings)
    return _shown(setup, picked, "", LOST)


def _shown(setup: Setup, before: Mapping[str, Fraction | str], put: str, reading: Fraction | str) -> State:
    readings = dict(before) | ({put: reading} if put else {})
    cells = {n: count for n, sensor in setup.sensors.items() if (count := setup.cells_of(sensor)) is not None}
    heard = {n: readings[n] for n in ([put] if put in cells and reading != LOST else cells) if readings[n] != LOST}
    cell = next((Fraction(value) / cells[n] for n, value in heard.items()), Fraction(4))
    shown = {n: cell * cells[n] if n in cells and value != LOST else value for n, value in readings.items()}
    positions = {switch.name: switch.positions[0] for switch in setup.switches.values()}
    return State(positions, {stick.name: stick.rest for stick in setup.sticks.values()}, shown, cell)


PACK_AND_CELL = """format = 1
[battery]
cells = 4
[sensors.pack]
reads = "pack-voltage"
[sensors.cell]
reads = "cell-voltage"
[alarms.low]
when = "pack < 14.4{}"
voice = "pack low"
[alarms.cell-low]
when = "cell < 3.4{}"
voice = "cell low"
"""


@pytest.mark.parametrize(
    "lost", [("", ""), (" or pack is lost", ""), ("", " or cell is lost"), (" or pack is lost", " or cell is lost")]
)
def test_a_pack_and_its_cells_are_quiet_together(lost: tuple[str, str]) -> None:
    """Each by itself would leave the other below its threshold."""
    state = rest(load_text(PACK_AND_CELL.format(*lost)).model)
    assert state.cell is not None
    assert state.cell >= Fraction("3.6")
    assert state.readings == {"pack": 4 * state.cell, "cell": state.cell}


def _loudness(setup: Setup, state: State) -> tuple[int, int]:
    evaluation = evaluate(setup, state)
    heard = sum(truth(setup, a.when, state, evaluation) is not False for a in setup.alarms.values() if a.audible)
    return heard, sum(value is not False for value in evaluation.conditions.values())


@pytest.mark.quick(6)
@pytest.mark.parametrize("seed", range(60))
def test_every_sensor_is_where_it_is_quietest(seed: int) -> None:
    text = Writer(seed).text() + (MORE if seed % 2 else "")
    setup = replace(load_text(text).model, channels={}, overrides={})
    assert rest(setup) == tried(setup)


def test_alarms_on_as_many_thresholds_are_each_looked_at_a_few_times() -> None:
    texts = (f'[alarms.a{n}]\nwhen = "pack < {16 + n / 400}"\nvoice = "alarm {n}"' for n in range(2_000))
    setup = load_text(with_reference(texts)).model
    regions = dict(_regions(setup))
    quiet = Quiet(setup, {name: values[0] for name, values in regions.items()})
    for name, values in regions.items():
        quiet.put_to_rest(name, values)
    assert quiet.looks < 12 * len(setup.alarms)


@pytest.mark.slow
def test_what_is_not_looked_at_is_said(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "craft.toml"
    path.write_text(Writer(1).text() + MORE)
    assert rest_doubt(load_text(path.read_text()).model) == ""
    monkeypatch.setattr("setuplint.plain.quiet.MOST_LOOKS", 20)
    setup = load_text(path.read_text()).model
    doubt = rest_doubt(setup)
    assert doubt.startswith("to find what sensors read at rest takes more than")
    assert "speed may read otherwise" in doubt
    main(["trace", str(path)])
    assert " ".join(capsys.readouterr().err.split()).count(doubt) == 1
    assert doubt[1:] in report_page(lint(path), setup)


@pytest.mark.parametrize(
    ("lo", "hi", "shown"), [(2080, 1_000_000, 2100), (1500, 20_000, 1600), (60, 100, 61), (90, 300, 100)]
)
def test_a_number_over_a_threshold_is_near_it(lo: int, hi: int, shown: int) -> None:
    assert sensible(Fraction(lo), Fraction(hi), lo_closed=False, hi_closed=True) == shown
