"""The bench card of every example: its readings by the plain evaluator, its safety, and that it shows what it has to."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

import setuplint
from setuplint.bench import card_model, order, proof
from setuplint.bench.card_model import Card, CardStep, Item, Row
from setuplint.bench.stages import bench_card
from setuplint.plain.evaluate import Evaluation, evaluate, power_up, truth
from setuplint.setup.formulas import Predicate
from setuplint.setup.model import Setup
from tests import once

EXAMPLES = Path(__file__).parents[2] / "examples"
SAFE = [path for path in sorted(EXAMPLES.glob("*.toml")) if "[craft]" in path.read_text(encoding="utf-8")]
HAZARDS = sorted((EXAMPLES / "hazards").glob("*.toml"))
REFERENCE = EXAMPLES / "reference.toml"
TEXT = REFERENCE.read_text(encoding="utf-8")
made = once.card


@cache
def seen_in(path: Path) -> list[tuple[Row, Evaluation]]:
    """The rows of an example's card, each asked of the plain evaluator without the walk."""
    of = made(path)
    return [(row, evaluate(of.setup, row.state, row.memory)) for step in of.steps for row in step.rows]


def without(of: Card, number: int) -> Card:
    stages = tuple(
        replace(stage, steps=tuple(step for step in stage.steps if step.number != number)) for stage in of.stages
    )
    return replace(of, stages=stages)


def step_of(of: Card, key: str, subject: str = "") -> CardStep:
    return next(step for step in of.steps if step.key == key and subject in ("", step.subject))


def reads(step: CardStep, row: int, channel: str) -> float:
    (value,) = step.rows[row].readings[channel].values
    return float(value)


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", [*SAFE, *HAZARDS[::4]], ids=lambda path: path.stem)
def test_done_again_every_reading_is_as_the_card_says(path: Path) -> None:
    """All movements, one after the other, by the plain evaluator; steps start and end with hold called and the stick down."""
    assert list(proof.faults(made(path))) == []


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", [*SAFE, *HAZARDS[::4]], ids=lambda path: path.stem)
def test_each_row_stands_by_itself(path: Path) -> None:
    """What a row says follows from its state and memory alone, asked of the plain evaluator without the walk."""
    of = made(path)
    assert seen_in(path)
    for row, seen in seen_in(path):
        for channel, reading in row.readings.items():
            output = seen.outputs[channel]
            if row.kind == card_model.GONE:
                entry = (of.setup.failsafe or {}).get(channel)
                assert reading.word or not reading.values or reading.values == (entry,)
            elif reading.between:
                assert output is not None
                assert reading.values[0] <= output <= reading.values[1]
            else:
                assert (output in reading.values) if output is not None else not reading.values
        if row.kind in (card_model.STARTS, card_model.REFUSED):
            assert (power_up(of.setup, row.state) is not None) == (row.kind == card_model.STARTS)


@pytest.mark.quick(1)
@pytest.mark.parametrize("path", [*SAFE, *HAZARDS[::4]], ids=lambda path: path.stem)
def test_nothing_is_missing_and_the_proof_can_fail(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a step shows is asked once: cards without another step have the very same."""
    of, known, shown = made(path), dict[int, list[Item]](), proof.items_shown

    def items_shown(setup: Setup, rows: tuple[Row, ...], items: list[Item]) -> list[Item]:
        if id(rows) not in known:
            known[id(rows)] = shown(setup, rows, items)
        return known[id(rows)]

    monkeypatch.setattr(proof, "items_shown", items_shown)
    assert proof.missing_items(of) == []
    for step in of.steps:
        if step.shows:
            lost = {item.key for item in proof.missing_items(without(of, step.number))}
            assert lost, f"without step {step.number} nothing is missing"
            assert lost <= {item.key for item in step.shows}


@pytest.mark.slow
@pytest.mark.parametrize("path", SAFE, ids=lambda path: path.stem)
def test_every_override_mode_alarm_and_line_of_a_safe_set_up_is_shown(path: Path) -> None:
    """Counted from the file's own text, not from what the card asks itself for."""
    of, given = made(path), tomllib.loads(path.read_text(encoding="utf-8"))
    assert of.left == ()
    read = [(row, each) for row, each in seen_in(path) if row.kind == card_model.READ]
    rows, seen = [row for row, _ in read], [each for _, each in read]
    deciders = {name for each in seen for name in each.deciders.values()}
    assert set(given.get("overrides", {})) <= deciders
    assert set(given.get("modes", {})) <= {row.mode for row in rows}
    sounding = {alarm for row in rows for alarm in row.alarms}
    assert set(given.get("alarms", {})) <= sounding
    for alarm in given.get("alarms", {}):
        assert any(alarm not in row.alarms for row in rows)
    own = {(channel, each.mode) for each in seen for channel, name in each.deciders.items() if name is None}
    for name, channel in of.setup.channels.items():
        lines = {repr(channel.line(mode)) for mode in of.setup.modes or [None]}
        assert lines == {repr(channel.line(mode)) for of_channel, mode in own if of_channel == name}


@pytest.mark.quick(3)
@pytest.mark.parametrize("path", SAFE, ids=lambda path: path.stem)
def test_the_hold_stops_the_motor_in_all_that_is_read(path: Path) -> None:
    of = made(path)
    hold, driven = Predicate("hold called"), Predicate("rotor driven")
    for row, seen in seen_in(path):
        assert not row.driven
        if row.kind == card_model.READ:
            held = truth(of.setup, hold, row.state, seen)
            assert not (held and truth(of.setup, driven, row.state, seen))


def test_the_reference_takes_few_boxes() -> None:
    of = made(REFERENCE)
    assert len(of.steps) <= 40
    assert [step.number for step in of.steps] == list(range(1, len(of.steps) + 1))
    assert sum(step.again for step in of.steps) == 10


@pytest.mark.slow
def test_the_stages_are_in_the_safe_order() -> None:
    keys = [stage.key for stage in made(EXAMPLES / "lapwing.toml").stages]
    assert keys[:8] == ["ready", "transmitter", "receiver", "hold", "modes", "corrections", "rescue", "memory"]
    assert keys[8:] == ["alarms", "failsafe", "range", "motor", "hover"]


@pytest.mark.quick(4)
@pytest.mark.parametrize("path", [*SAFE, *HAZARDS[::4]], ids=lambda path: path.stem)
def test_power_comes_after_the_transmitter_and_goes_before_it(path: Path) -> None:
    """But where the link is lost on purpose. Leads are put back, and blades, with nothing on."""
    of = made(path)
    on = powered = False
    for stage in of.stages:
        assert (on, powered) == ((True, True) if stage.key in LIVE else (False, False)), stage.key
        for step in stage.steps:
            assert not (on or powered) or step.key not in ("leads", "shut", "blades")
            for move in (*(move for row in step.rows for move in row.moves), *step.back):
                assert move.kind != card_model.RECEIVER or (on and not powered)
                assert move.kind != card_model.OFF or not powered or stage.key == "failsafe"
                on = {card_model.ON: True, card_model.OFF: False}.get(move.kind, on)
                powered = {card_model.RECEIVER: True, card_model.UNPOWERED: False}.get(move.kind, powered)
    assert (on, powered) == (False, False)


LIVE = ("hold", "modes", "corrections", "rescue", "memory", "overrides", "alarms", "failsafe", "range")


def test_what_stops_the_motor_is_measured_before_anything_rests_on_it() -> None:
    """A file that does not say it has more to measure, not fewer boxes."""
    known = [step.key for step in made(REFERENCE).stages[-2].steps]
    text = TEXT.replace("motor-off = -95", "# motor-off = -95")
    unknown = bench_card(setuplint.load_text(text).model)
    keys = [step.key for step in unknown.stages[-2].steps]
    assert known == ["leads", "connected", "still", "turns", "cuts"]
    assert keys == ["leads", "connected", "turns", "cuts"] or keys == ["leads", "connected", "turns", "still", "cuts"]
    assert [stage.key for stage in unknown.stages] == [stage.key for stage in made(REFERENCE).stages]
    kinds = [{item.kind for item in of.items} for of in (made(REFERENCE), unknown)]
    assert kinds[0] == kinds[1]


def test_what_the_reference_must_read() -> None:
    """Worked out by hand from the file."""
    of = made(REFERENCE)
    mode = step_of(of, "mode", "normal")
    assert [reads(mode, n, "motor") for n in (0, 2, 3, 4, 5)] == [-100, -14, 16, 46, 100]
    assert [reads(mode, n, "pitch") for n in (0, 2, 3, 4, 5)] == [-20, 5, 30, 55, 80]
    rescue = step_of(of, "rescue", "normal")
    assert [reads(rescue, n, "motor") for n in range(3)] == [16, 55, 16]
    assert [reads(rescue, n, "attitude") for n in range(3)] == [100, 100, 100]
    idle = step_of(of, "mode", "idle-up")
    assert idle.least == {"motor": 45}
    held = step_of(of, "hold", "idle-up")
    assert held.rows[1].state.positions["save"] == "pulled"
    assert [reads(held, n, "motor") for n in range(2)] == [-100, -100]
    alarm = step_of(of, "alarm", "land-now")
    assert [(float(row.state.readings["pack"]), row.alarms) for row in alarm.rows] == [
        (21.7, ()),
        (21.5, ("land-now",)),
    ]
    assert alarm.rows[1].moves[-1].wait == Fraction(3, 2)
    checks = [step for step in of.steps if step.key == "refused" and step.subject != "throttle"]
    refused = {(step.subject, step.rows[0].state.positions[step.subject]) for step in checks}
    assert refused == {("hold", "off"), ("flight", "idle-up-1"), ("flight", "idle-up-2")}
    gone = step_of(of, "gone", "free")
    assert reads(gone, 0, "motor") == -100
    assert gone.rows[0].readings["tail-gain"] == card_model.Reading()


def test_a_motor_that_cannot_be_disconnected_is_measured_first_of_all() -> None:
    text = (EXAMPLES / "goshawk.toml").read_text(encoding="utf-8").replace("motor-off = -92", "")
    of = bench_card(setuplint.load_text(text).model)
    (receiver,) = [stage for stage in of.stages if stage.key == "receiver"]
    assert [step.key for step in receiver.steps[:2]] == ["receiver", "turns"]
    assert sum(step.key == "turns" for step in of.steps) == 1
    assert not any(step.key == "leads" for step in of.steps)


def test_trims_and_knobs_are_at_their_ends_for_the_stop() -> None:
    of = made(EXAMPLES / "heron.toml")
    stop = step_of(of, "stop", "throttle")
    assert [row.state.trim for row in stop.rows] == [{"throttle": 4}, {"throttle": -4}]
    assert [reads(stop, n, "motor") for n in range(2)] == [-100, -100]


def test_memory_is_set_kept_and_taken_back() -> None:
    of = made(EXAMPLES / "lapwing.toml")
    lights = step_of(of, "memory", "lights")
    assert [reads(lights, n, "lamps") for n in range(2)] == [100, -100]
    assert [row.state.positions["lamp"] for row in lights.rows] == ["released", "pressed"]
    latched = made(EXAMPLES / "hazards" / "rescue-latched.toml")
    rescue = step_of(latched, "rescue", "normal")
    assert [move.control for move in rescue.rows[-1].moves] == ["save", "hold"]


def test_what_beats_the_hold_is_marked() -> None:
    of = made(EXAMPLES / "hazards" / "rescue-beats-hold.toml")
    bad, *_ = [step for step in of.steps if any(row.driven for row in step.rows)]
    assert (bad.key, reads(bad, 1, "motor")) == ("hold", 30)


def test_a_tie_and_an_unknown_smoothing_are_both_readings() -> None:
    tied = step_of(made(EXAMPLES / "hazards" / "equal-priorities.toml"), "hold")
    assert tied.rows[1].readings["motor"].values == (-100, 12)
    text = TEXT.replace('smoothing = "monotone"', 'smoothing = "unknown"').replace("[50, 46]", "[60, 46]")
    of = bench_card(setuplint.load_text(text.replace("[0, 20], [100, 100]", "[0, 20], [50, 70], [100, 100]")).model)
    assert not any(row.readings["motor"].between for step in of.steps for row in step.rows if step.key != "mode")
    assert list(proof.faults(of)) == []


NEVER = ('value = 55\nwhen = "save is pulled"', 'value = 55\nwhen = "save is pulled and save is released"')
SPARE = ("[failsafe]", "[timers.spare]\nseconds = 5\n[failsafe]")
SHADOWED = ("[modes.idle-up]\n", '[modes.never]\nwhen = "flight is normal"\n[modes.idle-up]\n')
MUTE = ('when = "link < 60 or link is lost"', 'when = "link < 60 and link is lost"')


@pytest.mark.quick(2)
@pytest.mark.parametrize(
    ("change", "item"),
    [
        (NEVER, ("override", "rescue-power")),
        (SPARE, None),
        (SHADOWED, ("mode", "never")),
        (MUTE, ("sounds", "link-weak")),
    ],
)
def test_what_cannot_be_is_listed_as_such(change: tuple[str, str], item: tuple[str, str] | None) -> None:
    assert change[0] in TEXT
    of = bench_card(setuplint.load_text(TEXT.replace(*change, 1)).model)
    assert {each.item.key[:2] for each in of.left} == ({item} if item else set())
    assert all("proved" in each.because for each in of.left)
    assert proof.missing_items(of) == []


def test_a_file_with_next_to_nothing_has_a_card() -> None:
    of = bench_card(setuplint.load_text('format = 1\n[channels.motor]\ndrives = "motor"\n').model)
    assert of.held is False
    assert {each.item.kind for each in of.left} == {"line", "gone"}
    assert list(proof.faults(of)) == []


def test_a_changed_reading_is_a_fault() -> None:
    of = made(REFERENCE)
    held = replace(of.setup.overrides["held"], value=Fraction(-99))
    wrong = replace(of.setup, overrides={**of.setup.overrides, "held": held})
    assert any("reads" in fault for fault in proof.faults(replace(of, setup=wrong)))


def test_steps_that_leave_the_hold_off_are_faults() -> None:
    of = made(REFERENCE)
    stages = tuple(replace(stage, steps=tuple(replace(step, back=()) for step in stage.steps)) for stage in of.stages)
    found = list(proof.faults(replace(of, stages=stages)))
    assert any(fault.endswith("with the hold off") for fault in found)
    assert any(fault.endswith("with the throttle stick up") for fault in found)


def test_fewest_movements_by_trying_every_order() -> None:
    """Eleven steps by nearest first and turning parts round, against the best of a thousand orders and more."""
    import random

    chance = random.Random(7)
    home = {"a": "1", "b": "1", "c": "1"}
    for size in (5, 7, 11):
        wants = [{c: chance.choice("123") for c in "abc" if chance.random() < 0.6} for _ in range(size)]
        found = order.movement_count(order.shortest_order(wants, home), wants, home)
        orders = [chance.sample(range(size), size) for _ in range(3000)]
        assert found <= min(order.movement_count(each, wants, home) for each in orders)


def test_a_failsafe_is_looked_at_with_the_sticks_held_over() -> None:
    """In the middle a place that is kept would look like one that was taught."""
    kept = bench_card(setuplint.load_text(TEXT.replace("roll = 0\n", 'roll = "keep"\n'), "kept.toml").model)
    gone = step_of(kept, "gone", "free")
    assert gone.rows[0].state.sticks["aileron"] == 50
    assert reads(gone, 0, "roll") > 15
    assert reads(step_of(made(REFERENCE), "gone", "free"), 0, "roll") == 0
