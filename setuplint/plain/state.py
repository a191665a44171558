"""States of the controls, memory, and what answers are made of. Both the encoder and the plain evaluator speak in these."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from setuplint.dataclass import dataclass, field
from setuplint.setup import names

LOST = "lost"
UNHEARD = "unheard"
TRIM = " trim"  # behind the name of its stick, that of a trim
MOST_CELL_VOLTS = Fraction(5)

# The range of each kind of sensor (MEANING.md 1); pack voltage is independent only where the number of cells is not given.
RANGES: Mapping[str, tuple[Fraction, Fraction]] = {
    kind: (Fraction(low), Fraction(high)) for kind, (low, high) in names.RANGES.items()
}


@dataclass(frozen=True, slots=True)
class State:
    """One state of the controls.

    `readings` gives each sensor its number, "lost" or "unheard", consistently: pack and cell sensors that are not lost show
    `cell` volts. `ties` and `smoothing` are not controls: they say which of several possible meanings is assumed, where two
    overrides tie on a channel (channel: override) or a curve's smoothing is unknown (curve: kind). `trim` is added to a
    stick where a channel reads it.
    """

    positions: Mapping[str, str]
    sticks: Mapping[str, Fraction]
    readings: Mapping[str, Fraction | str] = field(default_factory=dict)
    cell: Fraction | None = None
    ties: Mapping[str, str] = field(default_factory=dict)
    smoothing: Mapping[str, str] = field(default_factory=dict)
    trim: Mapping[str, Fraction] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Memory:
    """What the transmitter remembers: latches and toggles that are on, and the toggles whose `when` held last."""

    on: frozenset[str] = frozenset()
    last: frozenset[str] = frozenset()


OFF = Memory()
