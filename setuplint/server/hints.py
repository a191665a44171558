"""What stands beside the text: volts a cell, the pulse of an output, what decides a channel."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from setuplint.decide.evaluate import output
from setuplint.formats.numbers import decimal
from setuplint.server.analysis import Analysis
from setuplint.server.names import is_formula, value, walk
from setuplint.setup.formulas import FormulaError, tokens
from setuplint.source import Document, Path


class Hint(NamedTuple):
    """Words that are shown after an offset."""

    offset: int
    text: str


def hints(analysis: Analysis, document: Document) -> Iterator[Hint]:
    """All of one text."""
    for path in walk(document):
        found = value(document.values, path)
        if is_formula(path, found):
            yield from _volts(analysis, document, path, found)
        yield from _pulse(analysis, document, path)
    yield from _deciders(analysis, document)


def _volts(analysis: Analysis, document: Document, path: Path, text: str) -> Iterator[Hint]:
    setup = analysis.setup
    cells = setup.battery.cells
    try:
        found = tokens(text)
    except FormulaError:
        return
    for name, _, number in zip(found, found[1:], found[2:], strict=False):
        sensor = setup.sensors.get(name.text)
        if number.kind == "number" and sensor is not None and sensor.reads == "pack-voltage" and cells:
            each = decimal(Fraction(number.text) / cells, 3)
            yield Hint(document.string_offset(path, number.end), f"{each} V a cell")


def _pulse(analysis: Analysis, document: Document, path: Path) -> Iterator[Hint]:
    """Beside an override's value and a failsafe's number: the pulse that the receiver puts out."""
    setup, span = analysis.setup, document.value_span(path)
    put: Fraction | None = None
    if len(path) == 3 and path[0] == "overrides" and path[2] == "value":
        override = setup.overrides.get(str(path[1]))
        if override is not None and override.value is not None and override.channel in setup.channels:
            put = output(setup.channels[override.channel], override.value)
    elif len(path) == 2 and path[0] == "failsafe":
        entry = (setup.failsafe or {}).get(str(path[1]))
        put = entry if isinstance(entry, Fraction) else None
    if put is not None and span is not None:
        us = setup.craft.pulse_centre + setup.craft.pulse_per_percent * put
        yield Hint(span.end, f"{decimal(us)} µs")


def _deciders(analysis: Analysis, document: Document) -> Iterator[Hint]:
    """Beside a channel: the overrides that take it, the highest first."""
    setup = analysis.setup
    for name in setup.channels:
        own = [o for o in setup.overrides.values() if o.channel == name]
        span = document.value_span(("channels", name))
        if own and span is not None and document.text.startswith("[", span.start):
            own.sort(key=lambda o: -(o.priority or Fraction(0)))
            yield Hint(span.end, f"taken by {', then '.join(o.name for o in own)}")
