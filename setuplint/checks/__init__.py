"""Running the rule book over a setup. Each check is a plain function, named in CHECKS by the name in its rule's file."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from setuplint.checks import overrides, rescue
from setuplint.checks.asking import Asking
from setuplint.findings import Finding

Check = Callable[[Asking], Iterator[Finding]]

CHECKS: dict[str, Check] = {
    "override_conflict": overrides.override_conflict,
    "override_shadowed": overrides.override_shadowed,
    "override_stuck": overrides.override_stuck,
    "rescue_incomplete": rescue.rescue_incomplete,
    "rescue_too_weak": rescue.rescue_too_weak,
    "rescue_two_moves": rescue.rescue_two_moves,
}
