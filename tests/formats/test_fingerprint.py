"""The fingerprint: of what a transmitter holds and of [intent], whatever the file looks like and whatever else it says."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import tomli_w

import setuplint
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.problems import SetupProblem
from tests.setup import whole

KEPT_OUT = {"format", "craft", "battery", "packs", "receiver-supply", "field", "claims", "waivers"}
REFERENCE = (Path(__file__).parents[2] / "examples" / "reference.toml").read_text(encoding="utf-8")
WORDS = (
    "bank is middle", "hold is off", "pack < 21", "low", "sport", "stunt", "soft", "flat", "roll", "gain", "attitude", "flight",
    "elevator", "rudder", "aileron", "cell-voltage", "signal-strength", "multirotor", "fixed", "natural", "none", "three-135",
    "selector", "two-position", "momentary", "lihv", "lipo", "other", "straight", "mode-gap", "keep", "unit", "a word",
)  # fmt: skip


def mark(text: str) -> str:
    return fingerprint(setuplint.load_text(text).model)


def leaves(part: Any, way: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """Each value of a file that is no table, with its path; of lists of numbers or words, the whole list too."""
    if isinstance(part, Mapping):
        for key, inner in part.items():
            yield from leaves(inner, (*way, key))
    elif isinstance(part, list) and part and isinstance(part[0], Mapping | list):
        for n, inner in enumerate(part):
            yield from leaves(inner, (*way, str(n)))
    else:
        yield ".".join(way), part


# Keys that others must follow: what is put in their place, all at once.
TOGETHER: dict[str, list[tuple[str, Any]]] = {
    "craft.rotor": [("craft.rotor", "fixed"), ("craft.hover-collective", whole.ABSENT)],
    "switches.hold.kind": [("switches.hold", {"kind": "momentary", "positions": ["off", "on"]})],
    "switches.save.kind": [("switches.save", {"kind": "two-position", "positions": ["released", "pulled"]})],
    "channels.motor.expo.switch": [("channels.motor.expo", {"switch": "save", "at": {"released": 0, "pulled": 10}})],
    "channels.roll.rate.switch": [("channels.roll.rate", {"switch": "save", "at": {"released": 80, "pulled": 60}})],
    "channels.roll.mix.1.from": [("channels.roll.mix.1", {"from": "dial"})],
    "channels.attitude.from": [
        ("channels.attitude.from", 3),
        ("channels.attitude.values", whole.ABSENT),
        ("channels.attitude.in", whole.ABSENT),
    ],
}


def others(value: Any) -> Iterator[Any]:
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int | float):
        yield from (value + 1, value - 1, value + 0.5)
    elif isinstance(value, str):
        yield from (word for word in WORDS if word != value)
        yield value + " more"
    elif isinstance(value, date):
        yield value.replace(year=value.year + 1)
    elif isinstance(value, list):
        yield from (value[::-1], [*value, "rudder"], [*value[:-1], "rest"], [{"from": 3}])
        yield [value[0], *(each + 1 for each in value[1:] if isinstance(each, int))] if value else []


BEFORE = whole.load(whole.WHOLE)[1].setup
EVERY = list(leaves(whole.WHOLE))


@pytest.mark.quick(10)
@pytest.mark.parametrize(("path", "value"), EVERY, ids=[path for path, _ in EVERY])
def test_every_key_that_is_entered_is_in_it_and_no_other(path: str, value: Any) -> None:
    """WHOLE uses every key of the format; each is given another value that can be read."""
    changed = False
    for other in [TOGETHER[path]] if path in TOGETHER else ([(path, each)] for each in others(value)):
        made, problems = loaded(*other)
        if problems or repr(made) == repr(BEFORE):
            continue
        changed = True
        differs = fingerprint(made) != fingerprint(BEFORE)
        assert differs is (path.split(".")[0] not in KEPT_OUT), other
        break
    assert changed or path == "format"


def loaded(*edits: tuple[str, Any]) -> tuple[Any, tuple[SetupProblem, ...]]:
    _, built = whole.load(whole.edited(*edits))
    return built.setup, built.problems


def test_a_key_more_or_less_is_in_it() -> None:
    for path in ("knobs.spare", "switches.spare", "sticks.throttle.rest", "sensors.pack.cells", "channels.gain.number"):
        value = {"knobs.spare": {}, "switches.spare": {"kind": "momentary"}, "sticks.throttle.rest": "middle"}
        made, problems = loaded((path, value.get(path, 5)))
        assert not problems
        assert fingerprint(made) != fingerprint(BEFORE), path
    for path, given in (
        ("overrides.rescue.priority", 0),
        ("channels.gain.travel", [100, 100]),
        ("modes.normal.idle-up", False),
    ):
        assert fingerprint(loaded((path, given))[0]) == fingerprint(BEFORE), path


def test_layout_order_comments_and_claims_are_not() -> None:
    shuffled = random.Random(20)
    for _ in range(12):
        text = tomli_w.dumps(mixed(whole.WHOLE, shuffled, ()))
        assert mark(text) == mark(tomli_w.dumps(whole.WHOLE))
    for same in (
        REFERENCE.replace("#", "# more:"),
        REFERENCE.replace("value = 55", "value = 5.50e1"),
        REFERENCE.replace(" = ", "  =   "),
        REFERENCE.replace('"link < 60 or link is lost"', '"(link is lost) or (link<60.0)"'),
        re.sub(r"(?ms)^\[(craft|battery)\]\n.*?(?=^\[)", "", REFERENCE),
        REFERENCE + '[[claims]]\nnever = "hold is on and output motor > -95"\n',
    ):
        assert same != REFERENCE
        assert mark(same) == mark(REFERENCE)


def mixed(part: Any, by: random.Random, way: tuple[str, ...]) -> Any:
    """The same with its tables and keys in another order; of modes the first decides, so they keep theirs."""
    if not isinstance(part, Mapping):
        return part
    keys = list(part)
    if way != ("modes",):
        by.shuffle(keys)
    return {key: mixed(part[key], by, (*way, key)) for key in keys}


def test_it_stays_what_it_is() -> None:
    """Records that stand beside setups name it: whoever changes how it is taken makes all of them worthless."""
    assert (mark(REFERENCE), fingerprint(whole.load(whole.WHOLE)[1].setup)) == ("2ff8a47f", "8514fd0c")
