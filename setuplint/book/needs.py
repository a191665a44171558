"""What a rule needs to be able to read.

What a rule asks the engine is unknown by itself where it rests on what cannot be read. But a rule that takes the absence of a
key for something (no governor, no flag of a mode, no check at power-up) would take a key that cannot be read for absent: its
file names such keys under `needs`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from setuplint.book.rule_file import Rule
from setuplint.setup import formulas as f
from setuplint.setup.model import Path, Setup

START = "start.requires"
PACKS = "packs"
EACH = "*"  # of every named table
PART = re.compile("[a-z][a-z0-9]*(-[a-z0-9]+)*")


def is_key(key: str) -> bool:
    """Whether a setup may have a key, or a table, of that dotted path; a part may have any name, and * is each."""
    from setuplint.setup.shape import below, whole_file

    node = whole_file()
    for step in key.split("."):
        is_named = node.get("type") in ("map", "tables") and (step == EACH or PART.fullmatch(step))
        node = below(node, step) if is_named or node.get("type") == "table" else {}
    return bool(node)


def unreadable_keys(setup: Setup, rule: Rule) -> Iterator[Path]:
    """The keys that the rule needs and that are there and cannot be read: it is not asked; of a table it judges the parts that
    there are, and each part's keys are told by themselves."""
    for key in rule.needs:
        table, *rest = key.split(".")
        if EACH in rest and setup.is_broken(table):
            yield (table,)
        elif EACH in rest:  # flags of modes
            yield from dict.fromkeys((table, mode.name) for mode in setup.modes.values() if not mode.flags_known)
        elif key != START and setup.is_broken(table, *rest):
            yield (table, *rest)


def why_findings_prove_nothing(setup: Setup, rule: Rule) -> str:
    """Why a rule's findings are none, in words; else empty. A check at power-up that is not known in a state admits it: then
    silence is a proof, and a case is none."""
    if START not in rule.needs or setup.start is None or _is_readable(setup, setup.start):
        return ""
    broken = setup.is_broken("start", "requires")
    return f"start.requires {'cannot be read' if broken else 'rests on what cannot be read'}"


def _is_readable(setup: Setup, formula: f.Formula) -> bool:
    """Whether all that a formula rests on could be read."""
    waiting, seen = [formula], set[str]()
    while waiting:
        for atom in f.atoms(waiting.pop()):
            if isinstance(atom, f.Unknown):
                return False
            below: list[f.Formula | None] = []
            if isinstance(atom, f.Holds) and atom.condition not in seen:
                seen.add(atom.condition)
                condition = setup.conditions[atom.condition]
                below = [condition.when, condition.until]
            elif isinstance(atom, f.ModeIs) and "" not in seen:
                seen.add("")
                below = [mode.when for mode in setup.modes.values()]
            waiting += [each for each in below if each is not None]
    return True
