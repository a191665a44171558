"""A setup that notes what is read of it, so that what rests on it can be kept for as long as that stays the same."""

from __future__ import annotations

from collections.abc import ItemsView, Iterator, Mapping, ValuesView
from operator import attrgetter
from typing import Any, TypeVar

from setuplint.dataclass import field_names
from setuplint.setup.contents import CRAFT, FIELDS, INTENT, TABLES
from setuplint.setup.model import Channel, Craft, Intent, Override, Setup
from setuplint.setup.reads import Reads

T = TypeVar("T")


class WatchedTable(Mapping[str, T]):
    """The parts of one kind. Which names there are, and in what order, is no cell: the ground has it."""

    __slots__ = ("_kind", "_parts", "_reads")

    def __init__(self, kind: str, parts: Mapping[str, T], reads: Reads) -> None:
        self._kind, self._parts, self._reads = kind, parts, reads

    def __getitem__(self, name: str) -> T:
        self._reads.part(self._kind, name)
        return self._parts[name]

    def __contains__(self, name: object) -> bool:
        return name in self._parts

    def __iter__(self) -> Iterator[str]:
        return iter(self._parts)

    def __len__(self) -> int:
        return len(self._parts)

    def __or__(self, other: Mapping[str, T]) -> dict[str, T]:
        return dict(self) | dict(other)

    def values(self) -> ValuesView[T]:
        self._reads.table(self._kind, self._parts)
        return self._parts.values()

    def items(self) -> ItemsView[str, T]:
        self._reads.table(self._kind, self._parts)
        return self._parts.items()


class WatchedRecord:
    """The craft, or what is intended: some of its keys are noted when they are read. A copy with other values is a plain one."""

    __slots__ = ("_keys", "_reads", "_record", "_table")

    def __new__(cls, *parts: Any, **fields: Any) -> Any:
        if parts:
            return object.__new__(cls)
        return Craft(**fields) if "motor_off" in fields else Intent(**fields)

    def __init__(self, table: str, record: Craft | Intent, keys: Mapping[str, tuple[str, ...]], reads: Reads) -> None:
        self._table, self._record, self._keys, self._reads = table, record, keys, reads

    def __getattr__(self, name: str) -> Any:
        self._reads.cells.update([(self._table, key) for key in self._keys.get(name, ())])
        return getattr(self._record, name)


class WatchedSetup(Setup):
    """A setup that notes what is read of it. A copy with other values (`replace`) is a plain setup, its tables watched."""

    __slots__ = ("_craft", "_intent", "_raw", "_reads", "_tables")
    _raw: Setup
    _reads: Reads

    def __new__(cls, **fields: Any) -> Any:
        return Setup(**fields)

    def driving(self, *what: str) -> list[Channel]:
        found = self._raw.driving(*what)
        self._reads.cells.update([("channels", channel.name) for channel in found])
        return found

    def acting_on(self, channel: str) -> list[Override]:
        found = self._raw.acting_on(channel)
        self._reads.cells.update([("overrides", override.name) for override in found])
        return found


def watched(setup: Setup, reads: Reads) -> Setup:
    """The same setup, what is read of it noted in `reads`."""
    if type(setup) is WatchedSetup:
        return setup
    made = object.__new__(WatchedSetup)
    tables = {kind: WatchedTable(kind, getattr(setup, kind), reads) for kind in TABLES}
    craft = WatchedRecord("craft", setup.craft, CRAFT, reads)
    intent = WatchedRecord("intent", setup.intent, INTENT, reads)
    fields = {"_raw": setup, "_reads": reads, "_tables": tables, "_craft": craft, "_intent": intent}
    for name, value in fields.items():
        object.__setattr__(made, name, value)
    return made


def _field(name: str) -> property:
    """A field of the setup that it watches."""
    if name in TABLES:
        return property(lambda self: self._tables[name])
    get = attrgetter(name)
    if name in ("craft", "intent"):
        return property(attrgetter(f"_{name}"))
    if name not in FIELDS:
        return property(lambda self: get(self._raw))
    table = FIELDS[name]

    def read(self: Any) -> Any:
        self._reads.part(table, "")
        return get(self._raw)

    return property(read)


for _name in field_names(Setup):
    setattr(WatchedSetup, _name, _field(_name))
