"""Why a question cannot be judged: what its formula rests on that is not described."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, Node
from setuplint.setup.model import Setup
from setuplint.setup.predicates import predicate_formula


def reasons(
    setup: Setup, formula: f.Formula, cone: Cone, known: dict[Node, tuple[str, ...]] | None = None
) -> tuple[str, ...]:
    """Each missing or broken part once, in the order in which it is met. `known` keeps those of each part of the setup."""
    known = {} if known is None else known
    found = dict.fromkeys(_formula_reasons(setup, formula))
    for node in sorted(cone):
        if node not in known:
            known[node] = tuple(_part_reasons(setup, *node))
        found |= dict.fromkeys(known[node])
    return tuple(found)


def _formula_reasons(setup: Setup, formula: f.Formula) -> Iterator[str]:
    for atom in f.atoms(formula):
        if isinstance(atom, f.Unknown):
            yield atom.because
        elif isinstance(atom, f.Predicate):
            yield from _formula_reasons(setup, predicate_formula(setup, atom.name))
        elif isinstance(atom, f.CellBelow) and not _reads_cells(setup):
            yield setup.lacking("battery", "cells")


def _reads_cells(setup: Setup) -> bool:
    return any(setup.cells_of(sensor) is not None for sensor in setup.sensors.values())


def _part_reasons(setup: Setup, kind: str, name: str) -> Iterator[str]:
    if kind == "channel":
        channel = setup.channels[name]
        if any(line.terms is None for line in (channel.own, *channel.lines.values())):
            yield setup.undescribed(name)
    elif kind == "condition":
        condition = setup.conditions[name]
        for part in (condition.when, condition.until):
            yield from _formula_reasons(setup, part) if part is not None else ()
    elif kind == "override":
        override = setup.overrides[name]
        yield from _formula_reasons(setup, override.when)
        if not override.numbers or override.priority is None:
            yield f"overrides.{name} cannot be read"
    elif kind == "mode":
        when = setup.modes[name].when
        yield from _formula_reasons(setup, when) if when is not None else ()
