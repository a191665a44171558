"""The card proves what it claims: take a part out of the file, do the card again, and some box reads otherwise.

The part is taken out of the file's own tables, all movements are made by the plain evaluator, and what is read is compared as a
pilot would: whole points, one more or less is as good.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import setuplint
from setuplint.bench import card_model, proof
from setuplint.bench.card_model import Card, Reading, Row
from setuplint.bench.stages import bench_card
from setuplint.bench.walk import Walk, power_up_kind
from setuplint.setup.model import Setup
from tests import once
from tests.bench.test_card import HAZARDS, SAFE
from tests.bench.test_card import TEXT as REFERENCE_TEXT
from tests.oracle.setups import random_setup
from tests.oracle.toml_text import to_toml

Tables = dict[str, Any]
NEVER = "throttle < -100"


def mutants(values: Tables) -> Iterator[tuple[tuple[str, str], Tables]]:
    """Each part that a card shows, and the file without it."""
    for table in ("overrides", "alarms"):
        for name in values.get(table, {}):
            yield (table[:-1], name), without(values, table, name)
    for name in values.get("modes", {}):
        yield ("mode", name), changed(values, "modes", name, when=NEVER)
    for name, condition in values.get("conditions", {}).items():
        if "until" in condition or condition.get("toggles"):
            plain = {key: value for key, value in condition.items() if key not in ("until", "toggles")}
            yield ("memory", name), {**values, "conditions": {**values["conditions"], name: plain}}
    for name, place in values.get("failsafe", {}).items():
        if not isinstance(place, str):
            yield ("failsafe", name), {**values, "failsafe": {**values["failsafe"], name: "keep"}}
    yield from line_mutants(values)
    requires = values.get("start", {}).get("requires", "")
    terms = requires.split(" and ")
    for term in terms if requires and "(" not in requires and " or " not in requires else ():
        rest = " and ".join(each for each in terms if each != term)
        yield ("start", term), {**values, "start": {**values["start"], "requires": rest or "throttle <= 100"}}


def line_mutants(values: Tables) -> Iterator[tuple[tuple[str, str], Tables]]:
    for name, channel in values.get("channels", {}).items():
        for mode in channel.get("in", {}):
            if line_of(values, channel, mode) != line_of(values, channel, None):
                lines = {each: line for each, line in channel["in"].items() if each != mode}
                yield ("line", f"{name} in {mode}"), changed(values, "channels", name, **{"in": lines})
        yield from rate_mutants(values, name, channel)
        if not isinstance(channel.get("expo", 0), dict) and abs(channel.get("expo", 0)) >= 15:
            straight = {key: value for key, value in channel.items() if key != "expo"}
            yield ("expo", name), {**values, "channels": {**values["channels"], name: straight}}
        if "from" in channel and set(values.get("modes", {})) - set(channel.get("in", {})):
            bare = {key: value for key, value in channel.items() if key not in (*LINE, "in")}
            lines = {mode: whole_line(values, {**channel, **line}) for mode, line in channel.get("in", {}).items()}
            left = {**bare, "from": 0, **({"in": lines} if lines else {})}
            yield ("line", name), {**values, "channels": {**values["channels"], name: left}}


def rate_mutants(values: Tables, name: str, channel: Tables) -> Iterator[tuple[tuple[str, str], Tables]]:
    """Each position of a switch without the rate of its own: it has that of another position, as where one was not entered."""
    for mode, line in {"": channel, **channel.get("in", {})}.items():
        rate = line.get("rate", {})
        rates = rate["at"] if isinstance(rate, dict) and rate else {}
        for position, own in rates.items():
            other = next((each for each in rates.values() if abs(each - own) >= 10), own)
            if other != own:
                left = {**line, "rate": {**rate, "at": {**rates, position: other}}}
                made = {**channel, "in": {**channel["in"], mode: left}} if mode else left
                part = "rate", f"{name} in {mode}, {position}" if mode else f"{name}, {position}"
                yield part, {**values, "channels": {**values["channels"], name: made}}


def whole_line(values: Tables, given: Tables) -> Tables:
    """All that a mode's line says, without what only goes with another kind of source."""
    kind = "switch" if given["from"] in values.get("switches", {}) else "stick"
    idle = {"switch": ("rate", "expo", "curve"), "stick": ("values",)}[kind]
    if not isinstance(given["from"], str):
        idle = ("rate", "expo", "curve", "values")
    wanted = (*LINE, "ramp-up", "ramp-down")
    return {key: value for key, value in given.items() if key in wanted and key not in idle}


LINE = ("from", "rate", "expo", "curve", "values", "mix")


def line_of(values: Tables, channel: Tables, mode: str | None) -> Tables:
    given = {**channel, **channel.get("in", {}).get(mode, {})}
    line = {key: given.get(key) for key in LINE}
    line["mix"] = line["mix"] or None  # an empty list says what an absent one does
    return {**line, "curve": values.get("curves", {}).get(line["curve"], line["curve"])}


def without(values: Tables, table: str, name: str) -> Tables:
    return {**values, table: {key: part for key, part in values[table].items() if key != name}}


def changed(values: Tables, table: str, name: str, **keys: Any) -> Tables:
    return {**values, table: {**values[table], name: {**values[table][name], **keys}}}


# -- the card, done again


class Seen(NamedTuple):
    """What a pilot sees and hears in a row."""

    power_up: str | None  # what the transmitter does, where it is switched on; nothing else is looked at then
    readings: Mapping[str, Reading] = {}
    said: str | None = None
    sounds: frozenset[tuple[object, ...]] = frozenset()

    def differs(self, other: Seen) -> bool:
        if (self.power_up, self.said, self.sounds) != (other.power_up, other.said, other.sounds):
            return True
        return any(told_apart(said, other.readings[name]) for name, said in self.readings.items())


def read_with(card: Card, setup: Setup) -> Iterator[list[Seen]]:
    """Step by step, what the rows of a card read with a setup at hand."""
    walk, spoken = Walk(setup), None
    for step in card.steps:
        found = []
        for row in step.rows:
            for move in row.moves:
                walk.do(move)
            if row.kind in card_model.POWER_UP:
                found.append(Seen(power_up_kind(setup, walk.state)))
                continue
            look = walk.look(row.kind)
            readings = {name: look.readings[name] for name in row.readings}
            before = None if any(move.kind == card_model.ON for move in row.moves) else spoken
            spoken = look.mode if row.kind == card_model.READ else None
            said = None if spoken in (None, before) else setup.modes[spoken or ""].voice
            found.append(
                Seen(None, readings, said, sounds(setup, look)) if row.kind == card_model.READ else Seen(None, readings)
            )
        for move in step.back:
            walk.do(move)
        walk.moves = []
        spoken = walk.seen.mode if walk.on else None
        yield found


def differing_steps(card: Card, other: Setup, own: Iterable[list[Seen]] | None = None) -> Iterator[int]:
    """The boxes in which a pilot with another setup sees or hears something else than with the card's `own`, one by one."""
    own = read_with(card, card.setup) if own is None else own
    for step, mine, theirs in zip(card.steps, own, read_with(card, other), strict=True):
        if any(one.differs(another) for one, another in zip(mine, theirs, strict=True)):
            yield step.number


def sounds(setup: Setup, row: Row) -> frozenset[tuple[object, ...]]:
    return frozenset((a.voice, a.tone, a.vibrate, a.repeat) for a in map(setup.alarms.__getitem__, row.alarms))


def told_apart(said: Reading, seen: Reading) -> bool:
    """What is written is rounded, so is what the screen shows, and one point more or less is as good."""
    if not said.values or not seen.values:
        return bool(said.values) != bool(seen.values)
    low, high = round(min(said.values)) - 1, round(max(said.values)) + 1
    return all(not low <= round(value) <= high for value in seen.values) and not overlap(said, seen)


def overlap(said: Reading, seen: Reading) -> bool:
    return min(said.values) <= max(seen.values) and min(seen.values) <= max(said.values)


def said_untold(card: Card) -> set[tuple[str, str]]:
    """The parts of which the card says that it cannot show them."""
    kinds = {
        "refused": "start",
        "remembers": "memory",
        "forgets": "memory",
        "flown": "mode",
        "sounds": "alarm",
        "quiet": "alarm",
    }
    return {(kinds.get(each.item.kind, each.item.kind), each.item.subject) for each in card.left}


def test_a_start_that_only_warns_has_boxes_that_it_warns() -> None:
    text = REFERENCE_TEXT.replace("[start]", "[start]\nenforced = false\n#", 1)
    card = bench_card(setuplint.load_text(text).model)
    warned = [step for step in card.steps if any(row.kind == card_model.WARNED for row in step.rows)]
    assert [step.subject for step in warned] == ["hold", "flight", "flight", "throttle"]
    assert (card.left, list(proof.faults(card))) == ((), [])


def test_the_start_checks_parts_are_of_one_kind() -> None:
    text = REFERENCE_TEXT.replace("throttle < -95", "throttle < -95 and not pack-low")
    card = bench_card(setuplint.load_text(text).model)
    assert [(each.item.subject, each.because) for each in card.left] == [
        ("not pack-low", "no power-up that meets the rest of the start check fails it")
    ]


def survivors(card: Card, values: Tables) -> Iterator[str]:
    """The parts that can be missing without anyone noticing, though the card does not say so."""
    left, own = said_untold(card), list(read_with(card, card.setup))
    for part, tables in mutants(values):
        kind, subject = part
        if kind in ("line", "expo", "rate"):
            channel = subject.split(" in ")[0].split(", ")[0]
            if any(k in ("line", "end") and s.split(" in ")[0] == channel for k, s in left):
                continue
        elif part in left:
            continue
        mutant = setuplint.load_text(to_toml(tables))
        assert not mutant.problems, mutant.problems
        if next(differing_steps(card, mutant.model, own), None) is None:
            yield f"{kind} {subject}"


def tables_of(setup: setuplint.Setup) -> Tables:
    values = copy.deepcopy(dict(setup.texts.values))
    values.pop("extends", None)
    return values


@pytest.mark.quick(1)
@pytest.mark.parametrize("path", [*SAFE, *HAZARDS[::4]], ids=lambda path: path.stem)
def test_no_part_can_be_missing_unnoticed(path: Path) -> None:
    setup = setuplint.load(path)
    assert list(survivors(once.card(path), tables_of(setup))) == []


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    "limit",
    [
        {"channel": "pitch", "at-least": -5, "when": "hold is on or hold is off"},
        {"channel": "roll", "at-most": 40, "when": "rates is full"},
        {"channel": "roll", "at-most": 40, "at-least": -30, "when": "aileron > 0 or rates is soft"},
    ],
)
def test_a_line_that_is_limited_in_all_its_states_is_shown_limited(limit: dict[str, Any]) -> None:
    values = tomllib.loads(REFERENCE_TEXT)
    values["overrides"]["kept"] = limit
    values["channels"]["roll"]["rate"]["at"] = {"soft": 20, "full": 90}
    setup = setuplint.load_text(to_toml(values))
    card = bench_card(setup.model)
    assert (card.left, list(proof.faults(card))) == ((), [])
    assert list(survivors(card, tables_of(setup))) == []
    ends = {item.detail for item in card.items if item.kind == "end" and item.subject.split(" in ")[0] == "roll"}
    assert {"aileron bottom, rates soft", "aileron top, rates full"} <= ends


def by_selectors(rates: int, expos: int) -> str:
    """The reference with a rate of roll for each position of one switch, and an expo for each of another."""
    values = tomllib.loads(REFERENCE_TEXT)
    amounts = {"rate": [25 + 10 * n for n in range(rates)], "expo": [8 * n for n in range(expos)]}
    for key, all_of in amounts.items():
        at = {f"p{n}": amount for n, amount in enumerate(all_of)}
        values["switches"][f"{key}s"] = {"kind": "selector", "positions": list(at)}
        values["channels"]["roll"][key] = {"switch": f"{key}s", "at": at}
    return to_toml(values)


@pytest.mark.quick(1)
@pytest.mark.parametrize(("rates", "expos"), [(8, 2), (3, 9)])
def test_every_rate_is_told_however_many_switches_choose(rates: int, expos: int) -> None:
    setup = setuplint.load_text(by_selectors(rates, expos))
    assert not setup.problems
    tables, card = tables_of(setup), bench_card(setup.model)
    found = [part for part, _ in mutants(tables) if part[0] == "rate"]
    assert len(found) == rates
    assert list(survivors(card, tables)) == []
    seen = {word for item in card.items if item.subject == "roll" for word in item.detail.split(", ")[1:]}
    assert seen == {f"rates p{n}" for n in range(rates)} | {f"expos p{n}" for n in range(expos)}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2000, 2006))
def test_nor_of_random_setups(seed: int) -> None:
    """An expo is claimed only where it can be told, which of these few can."""
    setup = setuplint.load_text(random_setup(seed))
    found = list(survivors(bench_card(setup.model), tables_of(setup)))
    assert [part for part in found if not part.startswith("expo ")] == []


def test_the_holds_idle_is_told_from_the_curves_foot() -> None:
    """Of the engine at -78 both, the box at low stick alone would be ticked at a transmitter without any hold."""
    path = next(path for path in SAFE if path.stem == "bittern")
    setup = setuplint.load(path)
    values = tables_of(setup)
    card = once.card(path)
    boxes = list(differing_steps(card, setuplint.load_text(to_toml(without(values, "overrides", "held"))).model))
    holds = [step.number for stage in card.stages if stage.key == "hold" for step in stage.steps]
    assert set(holds[:3]) <= set(boxes)
    assert Fraction(-78) in card.steps[holds[0] - 1].rows[0].readings["motor"].values
