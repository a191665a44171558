"""What a record knows a box by: its movements and what must be read, whatever number it has on the card.

A box that another version of the card has too keeps its mark, so that what was ticked there still counts.
"""

from __future__ import annotations

import json
from hashlib import sha256

from setuplint.bench.card_model import CardStep, Move, Row


def box_mark(step: CardStep) -> str:
    """Eight hexadecimal digits."""
    return step.mark or mark_of([step.key, step.subject, list(map(_row, step.rows)), list(map(_move, step.back))])


def mark_of(content: object) -> str:
    """The same of what a box without a step says."""
    return sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:8]


def _row(row: Row) -> object:
    readings = {
        name: [list(map(str, reading.values)), reading.between, reading.word] for name, reading in row.readings.items()
    }
    moves = list(map(_move, row.moves))
    return [row.kind, moves, readings, row.mode, sorted(row.alarms), sorted(row.timers), sorted(row.memory.on)]


def _move(move: Move) -> list[str]:
    return [move.kind, move.control, str(move.value)]
