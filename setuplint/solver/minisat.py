"""MiniSat 2.2 as python-sat compiled it. The package's own front imports a library of formulas, and asks in each call whether the
solver is still there; this is the part of it that is used here."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import pysolvers

from setuplint.hints import Any


def _is_main_thread() -> int:
    threading = sys.modules.get("threading")  # where nobody has imported it there is one thread
    return int(threading is None or threading.current_thread() is threading.main_thread())


class Minisat:
    """One incremental solver. Clauses and assumptions are lists of non-zero integers."""

    def __init__(self) -> None:
        self._handle: Any = pysolvers.minisat22_new()

    def __del__(self) -> None:
        pysolvers.minisat22_del(self._handle)

    def add_clause(self, clause: Sequence[int]) -> None:
        pysolvers.minisat22_add_cl(self._handle, clause)

    def add_conjunction(self, gate: int, inputs: Sequence[int]) -> None:
        """The clauses by which one literal is true just where all of some others are."""
        add, handle = pysolvers.minisat22_add_cl, self._handle
        for x in inputs:
            add(handle, (-gate, x))
        add(handle, [gate, *[-x for x in inputs]])

    def solved(self, assumptions: list[int], most_conflicts: int) -> bool | None:
        """Whether the clauses and the assumptions can hold together; None when that takes more conflicts than allowed."""
        pysolvers.minisat22_cbudget(self._handle, most_conflicts)
        # the compiled module lets the keyboard interrupt a search, which only a program's main thread may arrange
        answer: bool | None = pysolvers.minisat22_solve_lim(self._handle, assumptions, _is_main_thread(), 0)
        return answer

    def propagated(self, assumptions: list[int]) -> list[int]:
        """The literals that unit propagation gives."""
        return pysolvers.minisat22_propagate(self._handle, assumptions, 0, _is_main_thread())[1] or []

    def refutes(self, assumptions: list[int]) -> bool:
        """Whether unit propagation alone shows that the assumptions cannot hold together."""
        return not pysolvers.minisat22_propagate(self._handle, assumptions, 0, _is_main_thread())[0]

    def prefer(self, literals: list[int]) -> None:
        """The values that variables are given first."""
        pysolvers.minisat22_setphases(self._handle, literals)

    def model(self) -> list[int]:
        """The assignment that the last search found, a literal for each variable."""
        return pysolvers.minisat22_model(self._handle) or []

    def core(self) -> list[int]:
        """The assumptions that the last search found not to hold together."""
        return pysolvers.minisat22_core(self._handle) or []

    def totals(self) -> tuple[int, int]:
        """Conflicts and propagations of all searches so far."""
        stats = pysolvers.minisat22_acc_stats(self._handle)
        return stats["conflicts"], stats["propagations"]
