"""Inlay hints beside the text: volts a cell, the pulse of an output, the overrides of a channel."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.formats.numbers import decimal, of_hundred
from setuplint.named_tuple import NamedTuple
from setuplint.plain import channel_values
from setuplint.server.formula_words import FORMULA_KEYS, formula_words, is_formula
from setuplint.server.parsed import ParsedText
from setuplint.server.table_pieces import entries_below, span_within
from setuplint.setup.model import Setup
from setuplint.source import Path

BOUNDS = ("at-least", "at-most", "value")
HINTED = (*FORMULA_KEYS, "failsafe", "craft")  # tables with hints
MOTOR_OUTPUTS = ("motor-off", "rotor-free", "hover-throttle", "governed-above")  # keys of [craft]


class Hint(NamedTuple):
    """A hint behind an offset; `tooltip` says more. Behind a number it begins with a sign, as not every editor leaves a gap."""

    offset: int
    label: str
    tooltip: str = ""


def inlay_hints(parsed: ParsedText) -> Iterator[Hint]:
    """The hints of the setup's own text."""
    own = parsed.own
    tables = (each for each in HINTED if isinstance(own.values.get(each), dict | list))
    for path, value in (entry for table in tables for entry in entries_below(own.values[table], (table,))):
        if is_formula(path) and isinstance(value, str):
            yield from _cell_volt_hints(parsed, path, value)
        if not isinstance(value, dict | list):
            output = _output_at(parsed.setup, path)
            span = own.value_span(path) if output is not None else None
            if output is not None and span is not None:
                yield _pulse_hint(parsed.setup, span.end, *output)
    for name in parsed.setup.channels:
        yield from _override_hints(parsed, name)


def _cell_volt_hints(parsed: ParsedText, path: Path, text: str) -> Iterator[Hint]:
    setup = parsed.setup
    found = list(formula_words(text))
    for name, sign, number in zip(found, found[1:], found[2:], strict=False):
        sensor = setup.sensors.get(name.text)
        if (name.role, sign.role, number.role) != ("control", "operator", "number") or sensor is None:
            continue
        cells = setup.cells_of(sensor)
        if sensor.reads == "pack-voltage" and cells:
            each = decimal(Fraction(number.text) / cells, 3)
            tooltip = f"{number.text} V of a pack of {cells} cells"
            yield Hint(span_within(parsed.own, path, number.start, number.end).end, f"= {each} V a cell", tooltip)


def _output_at(setup: Setup, path: Path) -> tuple[Fraction, str] | None:
    """The output (percent) that the number at a path means, and what its channel drives."""
    table, last = path[0], path[-1]
    if table == "overrides" and len(path) == 3 and last in BOUNDS:
        override = setup.overrides.get(str(path[1]))
        channel = setup.channels.get(override.channel) if override is not None else None
        number = override.numbers.get(str(last)) if override is not None else None
        if number is not None and channel is not None:
            return channel_values.output(channel, number), channel.drives
    elif table == "failsafe" and len(path) == 2:
        entry = (setup.failsafe or {}).get(str(last))
        channel = setup.channels.get(str(last))
        return (entry, channel.drives) if isinstance(entry, Fraction) and channel is not None else None
    elif table == "craft" and last in MOTOR_OUTPUTS:
        number = getattr(setup.craft, str(last).replace("-", "_"))
        return (number, "motor") if isinstance(number, Fraction) else None
    elif table == "intent" and len(path) == 3 and last in BOUNDS:
        bound = getattr(setup.intent, str(path[1]), None)
        limit = getattr(bound, str(last).replace("-", "_"), None)
        channel = setup.channels.get(getattr(bound, "channel", ""))
        return (limit, channel.drives) if isinstance(limit, Fraction) and channel is not None else None
    return None


def _pulse_hint(setup: Setup, offset: int, output: Fraction, drives: str) -> Hint:
    label = f"= {decimal(setup.craft.pulse(output))} µs"
    if drives == "motor":
        label += f", {of_hundred(output)}"
    return Hint(offset, label, f"the output is {decimal(output)} %")


def _override_hints(parsed: ParsedText, channel: str) -> Iterator[Hint]:
    """Beside a channel's heading: its overrides, the highest priority first."""
    own, setup = parsed.own, parsed.setup
    path = ("channels", channel)
    span = own.value_span(path)
    if span is None or not own.text.startswith("[", span.start) or parsed.texts.is_shared(path):
        return
    overrides = setup.acting_on(channel)
    overrides.sort(key=lambda each: -(each.priority or Fraction(0)))
    if overrides:
        names = [f"{o.name} ({decimal(o.priority)})" if o.priority is not None else o.name for o in overrides]
        label = f"taken by {', then '.join(o.name for o in overrides)}"
        yield Hint(span.end, label, f"by priority: {', '.join(names)}")
