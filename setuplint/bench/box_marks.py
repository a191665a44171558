"""What a record knows a box by: its movements and what must be read, whatever number it has on the card.

A box that another version of the card has too keeps its mark, so that what was ticked there still counts.
"""

from __future__ import annotations

import json
from hashlib import sha256

from setuplint.bench.card_model import CardStep, Move, Row

BESIDE = "0000"  # how the mark of a box begins by which a record proves nothing of the card


def box_mark(step: CardStep) -> str:
    """Eight hexadecimal digits."""
    return step.mark or _digits([step.key, step.subject, list(map(_row, step.rows)), list(map(_move, step.back))])


def mark_beside(content: object) -> str:
    """What a page keeps a box by that is none of the card's own: of a run, or of what a change took away."""
    return BESIDE + _digits(content)[len(BESIDE) :]


def _digits(content: object) -> str:
    return sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:8]


def _row(row: Row) -> object:
    readings = {
        name: [list(map(str, reading.values)), reading.between, reading.word] for name, reading in row.readings.items()
    }
    moves = list(map(_move, row.moves))
    return [row.kind, moves, readings, row.mode, sorted(row.alarms), sorted(row.timers), sorted(row.memory.on)]


def _move(move: Move) -> list[str]:
    return [move.kind, move.control, str(move.value)]
