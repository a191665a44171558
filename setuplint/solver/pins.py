"""The literals that fix what stands in an answer: a control where it is, memory as it is, ties and smoothings as they went."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from setuplint.solver.frame import Frame
from setuplint.solver.quantities import Quantity
from setuplint.solver.sat import FALSE, TRUE

Control = tuple[str, str]  # ("switch", name), ("stick", name), ("sensor", name), ("cell", ""), ("receiver", "")


class Pins:
    """The pins of one frame; `holds` says of a literal whether it holds in the answer, `reads` what channels read of a stick."""

    def __init__(self, frame: Frame, holds: Callable[[int], bool], reads: Mapping[str, Quantity] | None = None) -> None:
        self.frame, self.holds, self.reads = frame, holds, reads or {}

    def of_control(self, control: Control, quantity: Callable[[], Quantity]) -> list[int]:
        """Those that fix a control where it is; `quantity` gives what it shows, where it has a value."""
        kind, name = control
        controls, holds = self.frame.controls, self.holds
        if kind == "switch":
            return [x for x in controls.positions[name].values() if holds(x) and x != TRUE]
        if kind == "receiver":
            return [self._as_it_is(controls.receiver)]
        found: list[int] = []
        if kind == "sensor":
            found.append(self._as_it_is(controls.lost[name]))
            if self.frame.quantity_of(name)[0] == "":
                return _open(found)
        cells = [quantity().cell(holds)]
        if kind == "stick" and self.reads[name] is not controls.sticks[name]:
            cells.append(self.reads[name].cell(holds))
        return _open([*found, *(x for cell in cells for x in (cell.above, cell.under))])

    def of_memory(self) -> list[int]:
        """Those of memory before, and of conditions that lag."""
        bits = [*self.frame.before.on.values(), *self.frame.before.last.values(), *self.frame.lags.values()]
        return [self._as_it_is(bit) for bit in _open(bits)]

    def of_choices(self, tied: Mapping[str, Mapping[str, int]]) -> dict[str, list[int]]:
        """By channel which of the tied overrides wins, and by curve how it is smoothed."""
        pins = self.of_ties(tied)
        for curve, kinds in self.frame.smoothings.items():
            pins[f"curve {curve}"] = [self._as_it_is(x) for x in kinds.values()]
        return pins

    def of_ties(self, tied: Mapping[str, Mapping[str, int]]) -> dict[str, list[int]]:
        """By channel which of the tied overrides wins."""
        pins: dict[str, list[int]] = {}
        for rank, picks in tied.items():
            channel = self.frame.setup.overrides[rank].channel
            pins.setdefault(channel, []).extend(map(self._as_it_is, picks.values()))
        return pins

    def _as_it_is(self, literal: int) -> int:
        return literal if self.holds(literal) else -literal


def _open(literals: Sequence[int]) -> list[int]:
    """Those that are not constant."""
    return [x for x in literals if x not in (TRUE, FALSE)]
