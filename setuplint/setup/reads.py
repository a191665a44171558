"""What something rests on, noted as it is read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from setuplint.hints import TYPE_CHECKING, Any
from setuplint.setup.cone import Cone, Cones

if TYPE_CHECKING:
    from setuplint.setup.contents import Cell

    Noted = tuple[set[Cell], list[Iterable[Cell]], dict[Cones, int], bool, bool]


class Reads:
    """The cells that something rested on, since the last `forget`. `everything`: all of them; `is_kept`: False where what it
    rested on is in no file."""

    __slots__ = ("cells", "cones", "everything", "groups", "is_kept")

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        self.cells: set[Cell] = set()
        self.groups: list[Iterable[Cell]] = []  # more of them, put together when they are asked for
        self.cones: dict[Cones, int] = {}
        self.everything, self.is_kept = False, True

    def begin(self) -> Noted:
        """From here on what another thing rests on is noted; what was noted so far."""
        before = self.cells, self.groups, self.cones, self.everything, self.is_kept
        self.forget()
        return before

    def end(self, before: Noted) -> None:
        """What was begun is part of what was noted before."""
        cells, groups, cones, everything, is_kept = before
        self.cells |= cells
        self.groups += groups
        for each, bits in cones.items():
            self.cones[each] = self.cones.get(each, 0) | bits
        self.everything |= everything
        self.is_kept &= is_kept

    def add(self, cells: Iterable[Cell] | None) -> None:
        """Something rested on these; None: on everything."""
        if cells is None:
            self.everything = True
        else:
            self.groups.append(cells)

    def part(self, kind: str, name: str) -> None:
        self.cells.add((kind, name))

    def table(self, kind: str, names: Mapping[str, Any]) -> None:
        """All parts of a kind."""
        self.cells.update([(kind, name) for name in names])

    def cone(self, cone: Cone) -> None:
        """What the engine was asked about rested on all of a cone."""
        self.cones[cone.cones] = self.cones.get(cone.cones, 0) | cone.bits

    def all_cells(self) -> set[Cell]:
        """Every cell, those of the cones with them."""
        found = self.cells.union(*self.groups)
        for cones, bits in self.cones.items():
            found |= cones.cells(bits)
        return found
