"""Why a question cannot be judged: what its formula rests on that is not described."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, Node
from setuplint.setup.model import Setup
from setuplint.setup.predicates import predicate_formula

ALL_MODES: Node = ("modes", "")
Known = dict[Node, tuple[str, ...]]  # what is not described of each part of a setup; a predicate is one too


def reasons(setup: Setup, formula: f.Formula, cone: Cone, known: Known | None = None) -> tuple[str, ...]:
    """Each missing or broken part once, in the order in which it is met. `known` keeps those of each part of the setup."""
    known = {} if known is None else known
    found = dict.fromkeys(_formula_reasons(setup, formula, known))
    for node in sorted(cone):
        found |= dict.fromkeys(of_part(setup, node, known))
    return tuple(found)


def is_described(setup: Setup, formula: f.Formula, known: Known) -> bool:
    """Whether nothing in a formula itself is unknown. Where the parts that it rests on are described too it is true or false in
    every state."""
    return not any(True for _ in _formula_reasons(setup, formula, known))


def of_part(setup: Setup, node: Node, known: Known) -> tuple[str, ...]:
    """What is not described of one part."""
    found = known.get(node)
    if found is None:
        found = known[node] = tuple(_part_reasons(setup, *node, known))
    return found


def _formula_reasons(setup: Setup, formula: f.Formula, known: Known) -> Iterator[str]:
    for atom in f.atoms(formula):
        if isinstance(atom, f.Unknown):
            yield atom.because
        elif isinstance(atom, f.Predicate):
            yield from of_part(setup, ("predicate", atom.name), known)
        elif isinstance(atom, f.Sounds):
            yield from _formula_reasons(setup, setup.alarms[atom.alarm].when, known)
        elif isinstance(atom, f.CellBelow) and not _reads_cells(setup):
            yield setup.lacking("battery", "cells")


def _reads_cells(setup: Setup) -> bool:
    return any(setup.cells_of(sensor) is not None for sensor in setup.sensors.values())


def _part_reasons(setup: Setup, kind: str, name: str, known: Known) -> Iterator[str]:
    if kind == "predicate":
        yield from _formula_reasons(setup, predicate_formula(setup, name), known)
    elif kind == "channel":
        channel = setup.channels[name]
        if any(line.terms is None for line in (channel.own, *channel.lines.values())):
            yield setup.undescribed(name)
        for lent in channel.lendings:
            yield from _formula_reasons(setup, lent, known)
    elif kind == "condition":
        condition = setup.conditions[name]
        for part in (condition.when, condition.until):
            yield from _formula_reasons(setup, part, known) if part is not None else ()
    elif kind == "override":
        override = setup.overrides[name]
        yield from _formula_reasons(setup, override.when, known)
        if not override.numbers or override.priority is None:
            yield f"overrides.{name} cannot be read"
    elif kind == "mode":  # the first that holds is flown, so each rests on all of them
        yield from of_part(setup, ALL_MODES, known)
    elif (kind, name) == ALL_MODES:
        for mode in setup.modes.values():
            yield from _formula_reasons(setup, mode.when, known) if mode.when is not None else ()
