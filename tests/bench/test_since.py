"""Only what a change touches: the boxes that are kept tell the two files apart, and those left out do not."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import setuplint
from setuplint.bench import card_model, proof
from setuplint.bench.box_marks import box_mark
from setuplint.bench.card_model import Card
from setuplint.bench.since import CardSince, card_since
from setuplint.bench.stages import bench_card
from setuplint.bench.walk import Walk
from setuplint.book.record_file import BenchRecord, TickedBox
from setuplint.records.checked import checked_record
from setuplint.setup.fingerprint import fingerprint
from tests import once
from tests.bench.test_card import SAFE, TEXT
from tests.bench.test_mutations import Seen, differing_steps, mutants, read_with, tables_of
from tests.oracle.toml_text import to_toml

REFERENCE = next(path for path in SAFE if path.stem == "reference")


def made(new: str, old: str) -> CardSince:
    one, other = once.card_of(new), once.card_of(old)
    found = card_since(one, other)
    assert list(proof.faults(found.card)) == []
    return found


Pair = tuple[str, Card, list[list[Seen]], Card]


@cache
def pairs(path: Path) -> list[Pair]:
    """An example without a part, of other parts in each, and with it: each is the old one once. The new one has its readings."""
    return list(_pairs(path))


def _pairs(path: Path) -> Iterator[Pair]:
    setup = setuplint.load(path)
    whole = once.card(path)
    reads = list(read_with(whole, whole.setup))
    for (kind, subject), tables in list(mutants(tables_of(setup)))[SAFE.index(path) :: 14]:
        lacking = bench_card(setuplint.load_text(to_toml(tables)).model)
        yield f"{kind} {subject} put in", whole, reads, lacking
        yield f"{kind} {subject} taken out", lacking, list(read_with(lacking, lacking.setup)), whole


@pytest.mark.slow
@pytest.mark.parametrize("path", SAFE, ids=lambda path: path.stem)
def test_what_is_kept_tells_them_apart_and_what_is_left_out_does_not(path: Path) -> None:
    for name, new, reads, old in pairs(path):
        found = card_since(new, old)
        assert list(proof.faults(found.card)) == [], name
        differing = set(differing_steps(new, old.setup, reads))
        assert differing <= {step.number for step in found.card.steps}, name
        assert not differing & set(found.same), name
        kept = {step.number for step in found.card.steps}
        assert kept.isdisjoint(found.same), name
        assert {step.number for step in new.steps} <= kept | set(found.same), name
        assert next(differing_steps(found.card, old.setup), None) is not None, name
        assert found.parts, name


def test_nothing_changed_is_no_box() -> None:
    found = made(TEXT.replace("# someone", "#"), TEXT)
    assert (found.card.steps, found.parts) == ([], ())
    assert len(found.same) == len(once.card(REFERENCE).steps)


def test_a_change_of_the_rescue_leaves_out_what_it_does_not_touch() -> None:
    found = made(TEXT.replace("value = 55", "value = 60"), TEXT)
    keys = [stage.key for stage in found.card.stages]
    assert keys == ["ready", "receiver", "rescue", "motor"]
    assert found.parts == ("overrides.rescue-power",)


SWASH = '\n[swash]\nservos = "three-120"\ncollective = 40\ncyclic = 50\n'
PLUGS = TEXT.replace("number = 2\n", "number = 6 \n").replace("number = 6\n", "number = 2\n")
HOLDS, HANDS, TURNS = {"hold"}, {"tip", "lean", "swing"}, {"connected", "turns", "cuts"}


@pytest.mark.quick(2)
@pytest.mark.parametrize(
    ("new", "old", "part", "keys"),
    [
        (PLUGS, TEXT, "channels.motor", {"head", "mode", "rescue", "gone", *HOLDS, *TURNS}),
        (TEXT + SWASH.replace("50", "-50"), TEXT + SWASH, "swash", {"head", "ends", "mode", *HANDS}),
        (TEXT.replace("[switches.hold]", '[switches.hold]\nplace = "right"'), TEXT, "switches.hold", HOLDS | TURNS),
        (TEXT.replace("left shoulder", "right shoulder"), TEXT, "switches.flight", {"refused", "mode", "rescue"}),
        (TEXT.replace("seconds = 270", "seconds = 300"), TEXT, "timers.flight", {"mode"}),
    ],
    ids=["two plugs swapped", "swash mixer", "the hold's place", "the modes' place", "timer"],
)
def test_what_reads_the_same_and_is_elsewhere_is_done_again(new: str, old: str, part: str, keys: set[str]) -> None:
    """What was ticked of a channel proves nothing of the servo that another plug leads to."""
    assert new != old
    found = made(new, old)
    kept = {step.key for step in found.card.steps}
    assert keys <= kept
    assert kept >= {"ready", "receiver"}
    assert part in found.parts
    assert found.same


def test_a_start_check_that_warns_of_something_else_is_told() -> None:
    warns = TEXT.replace("[start]", "[start]\nenforced = false")
    assert made(warns.replace("throttle < -95", "throttle < -90"), warns).parts == ("start",)


def test_a_channel_that_is_gone_has_boxes_that_show_it() -> None:
    tables = tables_of(setuplint.load(REFERENCE))
    del tables["channels"]["tail-gain"]
    found = made(to_toml(tables), REFERENCE.read_text(encoding="utf-8"))
    assert "channels.tail-gain" in found.parts
    assert "gone" in {step.key for step in found.card.steps}


def test_what_is_gone_has_a_box_that_shows_it() -> None:
    """The alarm no longer sounds, and a start with the hold off is no longer refused."""
    start = made(TEXT.replace("hold is on and flight is normal", "flight is normal"), TEXT)
    (box,) = [step for stage in start.card.stages if stage.key == "gone" for step in stage.steps]
    assert [row.kind for row in box.rows] == [card_model.STARTS]
    assert box.rows[0].state.positions["hold"] == "off"
    assert box.number not in start.same
    assert box.number == max(step.number for step in start.card.steps)


def test_a_record_knows_the_kept_boxes_as_those_of_the_whole_card() -> None:
    whole = {step.number: box_mark(step) for step in once.card_of(TEXT.replace("value = 55", "value = 60")).steps}
    found = made(TEXT.replace("value = 55", "value = 60"), TEXT)
    assert {step.number: box_mark(step) for step in found.card.steps}.items() <= whole.items()


def model_of(text: str) -> Any:
    return setuplint.load_text(text).model


@pytest.mark.slow
@pytest.mark.parametrize("path", [REFERENCE, SAFE[-1]], ids=lambda path: path.stem)
def test_power_comes_and_goes_in_its_order(path: Path) -> None:
    for name, new, _, old in pairs(path)[:6]:
        walk = Walk(new.setup)
        for stage in card_since(new, old).card.stages:
            for step in stage.steps:
                for move in (*(move for row in step.rows for move in row.moves), *step.back):
                    assert move.kind != card_model.RECEIVER or walk.on, name
                    lost = stage.key in ("failsafe", "gone")
                    assert move.kind != card_model.OFF or not walk.powered or lost, name
                    walk.do(move)
        assert (walk.on, walk.powered) == (False, False), name


def test_a_record_proves_nothing_by_what_stands_beside_the_card() -> None:
    """A box of what a change took away is ticked too, and is no box that the card lacks."""
    text = TEXT.replace("hold is on and flight is normal", "flight is normal")
    found, setup = made(text, TEXT), model_of(text)
    ticked = [TickedBox(box=step.number, mark=box_mark(step), done=True, readings=[]) for step in found.card.steps]
    record = BenchRecord(
        record=1, craft="W", file="w.toml", on=date(2026, 11, 28), fingerprint=fingerprint(setup), boxes=ticked
    )
    check = checked_record(record, setup, bench_card(setup))
    assert len(check.proved) == len(ticked) - 1
    assert check.unknown == ()
