"""A channel that is reversed, its table turned upside down with it, puts out the same: every rule says the same of it."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from typing import Any

import pytest

from setuplint.book import rulebook
from tests import once
from tests.oracle.toml_text import to_toml
from tests.rules.edits import example_text

Setup = dict[str, Any]

ABOUT_THE_TABLE = ("curve-unordered", "not-a-setup", "scale-doubtful")
ASKED = ("curve-", "hover-", "control-", "hold-freezes", "mode-jump", "motor-lags", "output-clipped")
EXAMPLES = {
    f"{name}-{number}": example_text(example)
    for name in rulebook.rules()
    for number, example in enumerate(rulebook.page(name).examples)
    if name.startswith(ASKED) and example.beside is None
}


def mirrored(setup: Setup, name: str) -> None:
    """The same outputs: its demands have the other sign, and the channel is reversed."""
    channel = setup["channels"][name]
    channel["reversed"] = not channel.get("reversed", False)
    main = channel.get("from")
    for line in (channel, *channel.get("in", {}).values()):
        turn(setup, line, line.get("from", main), inherits=line is not channel and line.get("from", main) == main)
        for term in line.get("mix", []):
            turn(setup, term, term["from"], inherits=False)
    for override in setup.get("overrides", {}).values():
        if override.get("channel") == name:
            bounds = {key: -override.pop(key) for key in ("value", "at-least", "at-most") if key in override}
            swapped = {"at-least": "at-most", "at-most": "at-least"}
            override.update({swapped.get(key, key): number for key, number in bounds.items()})


def turn(setup: Setup, term: Setup, source: Any, inherits: bool) -> None:
    """The sign of one term of a line, and which ramp is which."""
    if not isinstance(term.get("from", ""), str):
        term["from"] = -term["from"]
    if "values" in term:
        term["values"] = {position: -number for position, number in term["values"].items()}
    if isinstance(source, str) and source not in setup["switches"] and ("curve" in term or not inherits):
        term["curve"] = upside_down(setup, term.get("curve", "straight"))
    ramps = {key: term.pop(key) for key in ("ramp-up", "ramp-down") if key in term}
    term.update({"ramp-down" if key == "ramp-up" else "ramp-up": seconds for key, seconds in ramps.items()})


def upside_down(setup: Setup, curve: str) -> str:
    straight = {"points": [[-100, -100], [100, 100]]}
    table = straight if curve == "straight" else setup["curves"][curve]
    setup["curves"][f"{curve}-turned"] = {**table, "points": [[x, -y] for x, y in table["points"]]}
    return f"{curve}-turned"


def told(text: str) -> list[str]:
    found = once.lint_text(text, "reference.toml").findings
    return sorted(f.rule for f in found if f.rule not in (*ABOUT_THE_TABLE, "part-unused"))


@pytest.mark.quick(6)
@pytest.mark.parametrize("example", EXAMPLES)
def test_mirrored_channels_are_judged_alike(example: str) -> None:
    text = EXAMPLES[example]
    setup = tomllib.loads(text, parse_float=Decimal)
    for name, channel in setup["channels"].items():
        if channel.get("drives") in ("motor", "collective", "aileron"):
            mirrored(setup, name)
    assert told(to_toml(setup)) == told(text)
