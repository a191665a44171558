"""What a file says, part by part, for answers that are kept: the same text gives the same part, whatever stands around it.

The parts that answers are told apart by are cells: a condition, a mode, a curve, a channel, an override, an alarm, a timer,
numbers of the craft, the battery, and some tables as a whole. All else is the ground: the other tables, which parts there are
and in what order, which keys they have, what drives what, and every problem of the file. A part is built from its own text and
the ground, so where both are the same the parts are equal (a test holds it).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from setuplint.hints import Any
from setuplint.setup.problems import SetupProblem
from setuplint.setup.texts import Texts
from setuplint.source.document import Document
from setuplint.source.marks import Items, Mark, Table

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
LEFT_OUT = {"channels": "number"}  # what problems there are with it is in the ground
STRUCTURE = ("drives", "channel", "cells")  # values of parts that the ground has, besides their keys: what acts on what


class Contents:
    """A file's ground and cells as hashable values."""

    __slots__ = ("cells", "ground")

    def __init__(self, ground: Any, cells: Mapping[Cell, Any]) -> None:
        self.ground, self.cells = ground, cells


def contents(texts: Texts, problems: Iterable[SetupProblem]) -> Contents:
    """What a file says. Its name, its craft's, and the numbers of its channels are left out: no answer hangs on them."""
    cells: dict[Cell, Any] = {}
    ground: list[Any] = [
        tuple(problems),
        *[(each.text if each is not texts.own else "", tuple(each.problems), tuple(each.broken)) for each in texts],
    ]
    own = texts.own
    marks = own._root.marks
    whole = WHOLE - {"battery"} if "packs" in marks else WHOLE  # a pack takes what it does not say from the battery
    for name, mark in marks.items():
        ground.append(name)  # an empty table is a place, too
        node = mark[4]
        start = mark[2] if isinstance(node, Table) and node.is_kept else 0
        if name in whole:
            cells[name, ""], structure = _written(own, mark)
            ground.append((name, *structure))
        elif name in TABLES and isinstance(node, Table):
            for part, each in node.marks.items():
                cells[name, part], structure = _written(own, each, start, LEFT_OUT.get(name, ""))
                ground.append((name, part, *structure))
        elif name in OWN and isinstance(node, Table):
            for key, each in node.marks.items():
                said, structure = _written(own, each, start)
                if key in OWN[name]:
                    cells[name, key] = said
                is_left_out = key in OWN[name] or (name, key) == ("craft", "name")
                ground.append((name, key, *structure) if is_left_out else (name, key, said))
        else:
            ground.append((name, _written(own, mark)[0]))
    return Contents(tuple(ground), cells)


def _written(document: Document, mark: Mark, start: int = 0, left_out: str = "") -> tuple[Any, tuple[Any, ...]]:
    """A value as written, tables with their keys in order, whatever their headings and comments look like; and its structure: the
    keys of a part, and of its parts, of some the value. Of a kept table these are kept; places in it count from its heading, so
    from `start`. Of one key what it says is `left_out`."""
    node = mark[4]
    if node is None:
        return document.text[mark[2] + start : mark[3] + start], ()
    kept = None
    if isinstance(node, Table) and node.is_kept:
        start = mark[2]
        kept = document.kept.by_values.get(id(node.values)) if document.kept is not None else None
    if kept is not None and "written" in kept.made:
        found: tuple[Any, tuple[Any, ...]] = kept.made["written"]
        return found
    if isinstance(node, Items):
        items = [_written(document, each, start) for each in node.marks]
        return ("", *[said for said, _ in items]), tuple([structure for _, structure in items])
    said, structure = [], []
    for key, each in node.marks.items():
        value, inner = _written(document, each, start)
        if key != left_out:
            said.append((key, value))
        inside = document.text[each[2] + start : each[3] + start] if key in STRUCTURE else inner
        structure.append((key, inside) if inside else key)
    found = tuple(said), tuple(structure)
    if kept is not None:
        kept.made["written"] = found
    return found
