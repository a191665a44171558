"""What stands beside the text: volts a cell, the pulse of an output, what may take a channel."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from setuplint.formats.numbers import decimal, of_hundred
from setuplint.plain.evaluate import output
from setuplint.server.analysis import Reading
from setuplint.server.formula_words import is_formula, words
from setuplint.server.occurrences import walk, within
from setuplint.setup.model import Override, Setup
from setuplint.source import Path

BOUNDS = ("at-least", "at-most", "value")
MOTOR = ("motor-off", "rotor-free", "hover-throttle", "governed-above")  # of [craft]: outputs of the motor channel


class Hint(NamedTuple):
    """Words that are shown after an offset; `about` says more."""

    offset: int
    text: str
    about: str = ""


def hints(reading: Reading) -> Iterator[Hint]:
    """All of a set-up's own text."""
    own = reading.own
    for path, found in walk(own):
        if is_formula(path) and isinstance(found, str):
            yield from _volts(reading, path, found)
        if len(path) > 1 and not isinstance(found, dict | list):
            put = _output(reading.setup, path)
            span = own.value_span(path)
            if put is not None and span is not None:
                yield Hint(span.end, *_pulse(reading.setup, *put))
    for name in reading.setup.channels:
        yield from _taken(reading, name)


def _volts(reading: Reading, path: Path, text: str) -> Iterator[Hint]:
    setup = reading.setup
    cells = setup.battery.cells
    found = list(words(text)) if cells else []
    for name, sign, number in zip(found, found[1:], found[2:], strict=False):
        sensor = setup.sensors.get(name.text)
        if (name.role, sign.role, number.role) != ("control", "operator", "number") or sensor is None:
            continue
        if sensor.reads == "pack-voltage" and cells:
            each = decimal(Fraction(number.text) / cells, 3)
            about = f"{number.text} V of a pack of {cells} cells"
            yield Hint(within(reading.own, path, number.start, number.end).end, f"{each} V a cell", about)


def _output(setup: Setup, path: Path) -> tuple[Fraction, str] | None:
    """The output that the number at a path stands for, and what it drives."""
    table, last = path[0], path[-1]
    if table == "overrides" and len(path) == 3 and last == "value":
        override = setup.overrides.get(str(path[1]))
        channel = setup.channels.get(override.channel) if override is not None else None
        if override is not None and channel is not None and override.value is not None:
            return output(channel, override.value), channel.drives
    elif table == "failsafe" and len(path) == 2:
        entry = (setup.failsafe or {}).get(str(last))
        channel = setup.channels.get(str(last))
        return (entry, channel.drives) if isinstance(entry, Fraction) and channel is not None else None
    elif table == "craft" and last in MOTOR:
        known = getattr(setup.craft, str(last).replace("-", "_"))
        return (known, "motor") if isinstance(known, Fraction) else None
    elif table == "intent" and len(path) == 3 and last in BOUNDS:
        bound = getattr(setup.intent, str(path[1]), None)
        limit = getattr(bound, str(last).replace("-", "_"), None)
        channel = setup.channels.get(getattr(bound, "channel", ""))
        return (limit, channel.drives) if isinstance(limit, Fraction) and channel is not None else None
    return None


def _pulse(setup: Setup, put: Fraction, drives: str) -> tuple[str, str]:
    us = f"{decimal(setup.craft.pulse_centre + setup.craft.pulse_per_percent * put)} µs"
    about = f"the output is {decimal(put)} %"
    return (f"{us}, {of_hundred(put)}", about) if drives == "motor" else (us, about)


def _taken(reading: Reading, channel: str) -> Iterator[Hint]:
    """Beside a channel's heading: the overrides that take it, the one that decides first."""
    own, setup = reading.own, reading.setup
    span = own.value_span(("channels", channel))
    if span is None or not own.text.startswith("[", span.start) or reading.texts.is_shared(("channels", channel)):
        return
    rivals = sorted((o for o in setup.overrides.values() if o.channel == channel), key=_order)
    if rivals:
        names = [f"{o.name} ({decimal(o.priority)})" if o.priority is not None else o.name for o in rivals]
        yield Hint(span.end, f"taken by {', then '.join(o.name for o in rivals)}", f"by priority: {', '.join(names)}")


def _order(override: Override) -> Fraction:
    return -(override.priority or Fraction(0))
