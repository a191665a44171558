"""The questions behind notes, asked again by brute force: the oracle knows nothing of the package."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.engine.answers import IMPOSSIBLE
from setuplint.notes.asking import Basis, Note
from tests.oracle import search
from tests.oracle.extremes import output_range
from tests.oracle.meaning import World
from tests.oracle.movements import Movements
from tests.oracle.search import Found, Impossible, TooBig


def disagreements(text: str, notes: list[Note]) -> Iterator[tuple[Basis, str]]:
    """Each question with what brute force says of its answer: "asked" where it agrees, "too big" where it cannot say."""
    world = World(text)
    for basis in dict.fromkeys(basis for note in notes for basis in note.basis):
        try:
            yield basis, _verdict(world, basis)
        except (TooBig, ValueError):
            yield basis, "too big"


def _verdict(world: World, basis: Basis) -> str:
    if basis.channel:
        ends = output_range(world, basis.channel, basis.asked)
        return "asked" if ends == (basis.least, basis.greatest) else str(ends)
    if basis.movement is not None:
        found = Movements(world, basis.before, basis.asked).found([basis.movement])
        return "asked" if found == (basis.verdict != IMPOSSIBLE) else f"movement found: {found}"
    answer = search.find(world, basis.asked)
    if basis.at_power_up:
        at_once = isinstance(answer, Found) and answer.count == 0
        return "asked" if at_once == (basis.verdict != IMPOSSIBLE) else f"at power-up: {at_once}"
    if isinstance(answer, Found):
        return "asked" if basis.verdict != IMPOSSIBLE else "found"
    if not answer.exact:
        return "too big"
    return "asked" if isinstance(answer, Impossible) and basis.verdict == IMPOSSIBLE else str(answer)
