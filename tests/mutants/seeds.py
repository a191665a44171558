"""The families of seeded hazards, each a function of a safe setup."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from . import figures, wiring
from .changes import Seed, Setup

FAMILIES: dict[str, Callable[[Setup], Iterator[Seed]]] = {
    "moved priorities": wiring.priorities,
    "overrides lost": wiring.overrides_lost,
    "override values": wiring.override_values,
    "swapped positions": wiring.swapped_positions,
    "other switches": wiring.other_switches,
    "formulas joined": wiring.joined,
    "springs and positions": wiring.switch_kinds,
    "latched, toggled, late": wiring.behind_conditions,
    "armed rescues": wiring.armed_rescues,
    "conditions changed": wiring.conditions_changed,
    "comparisons": wiring.comparisons,
    "renamed sensors": wiring.sensors_renamed,
    "packs": wiring.packs,
    "charge": wiring.charges_counted,
    "alarms": wiring.alarms_changed,
    "reversed, cut, shifted": figures.servos,
    "lines": figures.lines,
    "slips in controls": figures.slips,
    "gains": figures.gains,
    "levels": figures.levels,
    "mixes": figures.mixes,
    "fixed lines": figures.fixed_lines,
    "forgotten in a mode": figures.forgotten_in,
    "modes": figures.modes_changed,
    "curves": figures.curves_changed,
    "the craft": figures.crafts,
    "start": figures.starts,
    "intent": figures.intents,
    "failsafe": figures.failsafes,
    "timers": figures.timers_changed,
    "trims": figures.trims,
    "receiver numbers": figures.numbers,
    "claims": figures.claims_added,
}
