"""What a file says, part by part, for answers that are kept: the same text gives the same part, whatever stands around it.

The parts that answers are told apart by are cells: a condition, a mode, a curve, a channel, an override, an alarm, a timer,
numbers of the craft, the battery, and some tables as a whole. All else is the ground: the other tables, which parts there are
and in what order, which keys they have, what drives what, and every problem of the file. A part is built from its own text and
the ground, so where both are the same the parts are equal (a test holds it).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from setuplint.hints import Any
from setuplint.setup.problems import SetupProblem
from setuplint.setup.texts import Texts
from setuplint.source.document import Items, Table

Cell = tuple[str, str]  # ("conditions", "hold"); ("failsafe", "") for what has no names

TABLES = ("conditions", "modes", "curves", "channels", "overrides", "alarms", "timers")
FIELDS = {
    "failsafe": "failsafe", "claims": "claims", "waivers": "waivers", "swash": "swash", "supply": "receiver-supply",
    "elevation_m": "field", "battery": "battery",
}  # fmt: skip
WHOLE = frozenset(FIELDS.values())
CRAFT = {
    "motor_off": ("motor-off",), "rotor_free": ("rotor-free", "motor-off"), "hover_throttle": ("hover-throttle",),
    "hover_collective": ("hover-collective",), "governed_above": ("governed-above",),
    "hover_measured_at_m": ("hover-measured-at-m",),
}  # fmt: skip
INTENT = {"level": ("level",), "lift": ("lift",)}
NUMBERS = frozenset(key for keys in CRAFT.values() for key in keys)
OWN = {"craft": NUMBERS, "intent": frozenset(INTENT)}  # keys that are cells of their own, by table
STRUCTURE = ("drives", "channel", "cells")  # values of parts that the ground has, besides their keys: what acts on what


class Contents:
    """A file's ground and cells as hashable values."""

    __slots__ = ("cells", "ground")

    def __init__(self, ground: Any, cells: Mapping[Cell, Any]) -> None:
        self.ground, self.cells = ground, cells


def contents(texts: Texts, problems: Iterable[SetupProblem]) -> Contents:
    """What a file says. Its name, and its craft's, are left out: no answer hangs on them."""
    cells: dict[Cell, Any] = {}
    ground: list[Any] = [
        tuple(problems),
        *[(each.text if each is not texts.own else "", tuple(each.problems), tuple(each.broken)) for each in texts],
    ]
    text = texts.own.text
    marks = texts.own._root.marks
    whole = WHOLE - {"battery"} if "packs" in marks else WHOLE  # a pack takes what it does not say from the battery
    for name, mark in marks.items():
        node = mark[4]
        if name in whole:
            cells[name, ""] = _value_written(text, mark[2], mark[3], node)
            ground.append((name, *_structure(text, node)))
        elif name in TABLES and isinstance(node, Table):
            for part, each in node.marks.items():
                cells[name, part] = _value_written(text, each[2], each[3], each[4])
                ground.append((name, part, *_structure(text, each[4])))
        elif name in OWN and isinstance(node, Table):
            for key, each in node.marks.items():
                said = _value_written(text, each[2], each[3], each[4])
                if key in OWN[name]:
                    cells[name, key] = said
                is_left_out = key in OWN[name] or (name, key) == ("craft", "name")
                ground.append((name, key, *_structure(text, each[4])) if is_left_out else (name, key, said))
        else:
            ground.append((name, _value_written(text, mark[2], mark[3], node)))
    return Contents(tuple(ground), cells)


def _value_written(text: str, start: int, end: int, node: Table | Items | None) -> Any:
    """A value as written; tables with their keys in order, whatever their headings and comments look like."""
    if isinstance(node, Table):
        return tuple([(key, _value_written(text, m[2], m[3], m[4])) for key, m in node.marks.items()])
    if isinstance(node, Items):
        return ("", *[_value_written(text, m[2], m[3], m[4]) for m in node.marks])
    return text[start:end]


def _structure(text: str, node: Table | Items | None) -> Iterator[Any]:
    """The keys of a part, and of its parts; of some the value."""
    if isinstance(node, Items):
        yield from (tuple(_structure(text, mark[4])) for mark in node.marks)
    elif node is not None:
        for key, mark in node.marks.items():
            value = text[mark[2] : mark[3]] if key in STRUCTURE else tuple(_structure(text, mark[4]))
            yield (key, value) if value else key
