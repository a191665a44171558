"""All formulas of a setup, and how many states of the controls there are, told apart as far as these do."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.setup import formulas as f
from setuplint.setup.model import Claim, Path, Setup

MOST_STATES = 10**300


def states_of(setup: Setup) -> int:
    """Positions of every switch, times the numbers with which formulas compare each stick and sensor and the stretches between
    them, times each sensor lost or not and the receiver off or on; MOST_STATES where there are more, which Python could not
    print. Sensors that show the voltage of one cell in different units are one."""
    numbers: dict[str, set[Fraction]] = {name: set() for name in setup.sticks}
    units = {name: setup.cells_of(sensor) for name, sensor in setup.sensors.items()}
    for name, unit in units.items():
        numbers.setdefault(name if unit is None else "", set())
    for formula in setup_formulas(setup):
        for atom in f.atoms(formula):
            if isinstance(atom, f.Compare):
                unit = units.get(atom.name)
                numbers["" if unit else atom.name].add(atom.number / unit if unit else atom.number)
    count = 1
    for switch in setup.switches.values():
        count *= len(switch.positions)
    for compared in numbers.values():
        count = min(count * (2 * len(compared) + 1), MOST_STATES)
    return min(count * (2 ** len(units) + 1 if units else 1), MOST_STATES)


def setup_formulas(setup: Setup) -> Iterator[f.Formula]:
    """Every formula of the file."""
    return (formula for _, formula in placed_formulas(setup))


def placed_formulas(setup: Setup) -> Iterator[tuple[Path, f.Formula]]:
    """Every formula of the file, with where it stands."""
    intent, lent = setup.intent, setup.trainer.lent if setup.trainer is not None else None
    found: list[tuple[Path, f.Formula | None]] = []
    for condition in setup.conditions.values():
        found += [(("conditions", condition.name, key), getattr(condition, key)) for key in ("when", "until")]
    for table, parts in (("modes", setup.modes), ("overrides", setup.overrides), ("alarms", setup.alarms)):
        found += [((table, part.name, "when"), part.when) for part in parts.values()]
    found += [(("timers", timer.name, "runs"), timer.runs) for timer in setup.timers.values()]
    found += [(("start", "requires"), setup.start or setup.start_warns), (("trainer", "lent"), lent)]
    found += [(("intent", key), getattr(intent, key)) for key in ("hold", "stop", "rescue")]
    found += [(claim_path(setup, claim), claim.never) for claim in setup.claims]
    return ((path, formula) for path, formula in found if formula is not None)


def claim_path(setup: Setup, claim: Claim) -> Path:
    """Where a claim's formula stands."""
    key = "always" if ("claims", claim.index, "always") in setup.declared else "never"
    return ("claims", claim.index, key)
