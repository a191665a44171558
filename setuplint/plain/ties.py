"""A state once more for each who may win a tie: one evaluation takes as long as the file is large, so there are few."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.dataclass import replace
from setuplint.plain.evaluate import Evaluation, evaluate
from setuplint.plain.state import Memory, State
from setuplint.setup.model import Setup


def each_tie(setup: Setup, state: State, memory: Memory, seen: Evaluation, most: int) -> Iterator[Evaluation]:
    """Where the first of each tie wins, where the second does, and so on, up to `most`; a shorter tie is won by its last then.
    Ties on two channels are independent, so all channels share these."""
    for number in range(min(most, max(map(len, seen.tied.values()), default=0))):
        ties = {channel: names[min(number, len(names) - 1)] for channel, names in seen.tied.items()}
        yield evaluate(setup, replace(state, ties={**state.ties, **ties}), memory)
