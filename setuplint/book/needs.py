"""Rules that take the absence of a key for something: where the key is there and cannot be read, they are not judged.

What a rule asks the engine is unknown by itself where it rests on what cannot be read. A flag of a mode, and a key whose
absence says something (no governor, no check at power-up), are read by the rules themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from setuplint.setup import formulas as f
from setuplint.setup.model import Path, Setup

KEYS: Mapping[str, Path] = {
    "mode-jump": ("craft", "governed-above"),
    "rescue-too-strong": ("craft", "governed-above"),
    "rescue-release-drop": ("craft", "governed-above"),
}
BY_FLAGS = frozenset(
    (
        *("motor-on-at-low-stick", "trim-lifts-motor", "start-in-idle-up", "idle-up-stops", "hold-shared"),
        *("rescue-release-drop", "lift-before-level", "curve-not-monotonic", "curve-short-of-full"),
        *("hover-too-sharp", "curve-flat-at-hover", "hover-off-centre", "curve-steep-outside"),
    )
)
"""Rules that ask which modes are idle-up or aerobatic."""


BY_START = frozenset(("start-unguarded", "start-in-idle-up"))


def unread(setup: Setup, rule: str) -> Iterator[Path]:
    """The keys that a rule would take for absent: it is not asked."""
    key = KEYS.get(rule)
    if key is not None and setup.is_broken(*key):
        yield key
    if rule in BY_FLAGS:
        yield from (("modes", mode.name) for mode in setup.modes.values() if not mode.flags_known)


def proves_nothing(setup: Setup, rule: str) -> str:
    """Why a rule's findings are none, in words. A check at power-up that is not known in a state admits it: then silence is a
    proof, and a case is none."""
    if rule not in BY_START or setup.start is None or _read(setup, setup.start, set()):
        return ""
    broken = setup.is_broken("start", "requires")
    return f"start.requires {'cannot be read' if broken else 'rests on what cannot be read'}"


def _read(setup: Setup, formula: f.Formula, seen: set[str]) -> bool:
    """Whether all that a formula rests on could be read."""
    for atom in f.atoms(formula):
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
        if not all(each is None or _read(setup, each, seen) for each in below):
            return False
    return True
