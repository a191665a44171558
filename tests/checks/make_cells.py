"""Open-circuit curves of published cells, as PyBaMM gives them: written to cells.json, which the tests hold the tables to.

    python3 -m venv .venv-cells && .venv-cells/bin/pip install -q -r requirements-cells.txt
    .venv-cells/bin/python -m tests.checks.make_cells            # with --check nothing is written: 1 if it would differ

Marquis et al. 2019, Ecker et al. 2015, Ai et al. 2020, Ramadass et al. 2004, Kim et al. 2011, Mohtat et al. 2020, Chen et
al. 2020 and Prada et al. 2013. Nothing of setuplint is asked: what it has is compared with this, by test_cells.py.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

KEPT = Path(__file__).with_name("cells.json")
STEPS = 500  # of the charge, from empty to full
SETS = (
    "Marquis2019", "Ecker2015", "Ai2020", "Ramadass2004", "NCA_Kim2011", "Mohtat2020", "Chen2020", "Prada2013",
)  # fmt: skip
A_LINE = 14  # figures


def curve(name: str) -> list[int]:
    """A set's microvolts from empty to full: the difference of its electrodes' potentials, between the ends of its range."""
    os.environ["PYBAMM_DISABLE_TELEMETRY"] = "true"  # read when it is imported
    import numpy as np
    import pybamm

    charge = np.linspace(0, 1, STEPS + 1)
    values = pybamm.ParameterValues(name)
    empty, full, positive_full, positive_empty = pybamm.lithium_ion.get_min_max_stoichiometries(values)
    positive = pybamm.Vector(positive_empty + charge * (positive_full - positive_empty))
    negative = pybamm.Vector(empty + charge * (full - empty))
    plus, minus = (values[f"{which} electrode OCP [V]"] for which in ("Positive", "Negative"))
    volts = np.asarray(values.evaluate(plus(positive) - minus(negative))).ravel()
    return [round(each * 1e6) for each in volts.tolist()]


def text_of(curves: dict[str, list[int]]) -> str:
    """As JSON, so many figures a line."""
    parts = []
    for name, figures in curves.items():
        rows = [", ".join(map(str, figures[at : at + A_LINE])) for at in range(0, len(figures), A_LINE)]
        parts.append(f'  "{name}": [\n    ' + ",\n    ".join(rows) + "\n  ]")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def differing(kept: dict[str, list[int]], given: dict[str, list[int]]) -> list[str]:
    """Where the two differ by more than the last figure, which may be rounded otherwise on another processor."""
    if list(kept) != list(given):
        return [f"sets {', '.join(kept)}, not {', '.join(given)}"]
    return [
        f"{name} at {100 * at / STEPS:g} %: {ours} µV, not {theirs}"
        for name in given
        for at, (ours, theirs) in enumerate(zip(kept[name], given[name], strict=True))
        if abs(ours - theirs) > 1
    ]


def main(words: list[str]) -> int:
    given = {name: curve(name) for name in SETS}
    if words == ["--check"]:
        wrong = differing(json.loads(KEPT.read_text(encoding="utf-8")), given)
        print("\n".join(wrong) or f"{KEPT.name}: {len(given)} curves are as PyBaMM gives them")
        return 1 if wrong else 0
    if words:
        print(__doc__, file=sys.stderr)
        return 2
    KEPT.write_text(text_of(given), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
