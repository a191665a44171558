"""Readings of a transmitter that exists: what each channel gave at which places of the switches and sticks. docs/readings.md has
the file's format."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from setuplint.dataclass import dataclass
from setuplint.interview.course import CourseNames
from setuplint.interview.data import interview
from setuplint.interview.replies import NOT_NAMES, reading
from setuplint.setup.declarations import DEFAULT_POSITIONS, STICKS
from setuplint.setup.formulas import RESERVED
from setuplint.source import Document, Path, parsed_document

USES = ("hold", "stop", "rescue", "mode", "other")
DRIVES = ("motor", "collective", "aileron", "elevator", "rudder", "gyro-gain", "stabiliser", "other")
REST: Mapping[str, Fraction] = {stick: Fraction(-100 if stick == "throttle" else 0) for stick in STICKS}
MOST_PLACES, MOST_SWITCHES, MOST_STOPS, MOST_CHANNELS = 1000, 24, 4, 32
CRAFT = ("name", "kind", "rotor", "radio")


class Unreadable(Exception):
    """Why a readings file cannot be taken, with its place."""


@dataclass(frozen=True, slots=True)
class ReadSwitch:
    """A switch, and what it is for. `calls` is the position that calls the hold, the stop or the rescue."""

    name: str
    kind: str
    positions: tuple[str, ...]
    use: str
    calls: str


@dataclass(frozen=True, slots=True)
class ReadPlace:
    """One place: every switch's position, every stick in percent, and what channels gave there."""

    positions: Mapping[str, str]
    sticks: Mapping[str, Fraction]
    reads: Mapping[str, Fraction]
    number: int  # in the file, from 1


@dataclass(frozen=True, slots=True)
class Readings:
    """A whole file. `channels` are (drives, number at the receiver or None) by name."""

    craft: Mapping[str, str]
    switches: Mapping[str, ReadSwitch]
    channels: Mapping[str, tuple[str, int | None]]
    places: tuple[ReadPlace, ...]


def planned_places(
    switches: Iterable[ReadSwitch], groups: Sequence[Sequence[str]] = (STICKS,)
) -> list[tuple[dict[str, str], dict[str, Fraction]]]:
    """Where the card asks for readings: switches and sticks, those that are not named at rest. With all switches at rest the
    sticks move one by one; else all of a group at once, to the bottom or left, the middle, the top or right. Hold, stop and
    rescue are read alone and in pairs, in every mode, other switches alone."""
    tables = [
        {"name": s.name, "positions": list(s.positions), "use": s.use, "at": Fraction(n)}
        for n, s in enumerate(switches)
    ]
    names = CourseNames(interview(), {"switches": tables, "groups": [list(group) for group in groups]})
    return [(dict(moved), dict(sticks)) for moved, sticks in names.look_up("plan")]


def read_readings(text: str, name: str) -> Readings:
    """Unreadable where it is not TOML, or not of the format."""
    document = parsed_document(text, name)
    for problem in document.problems:
        raise Unreadable(f"{_where(document, problem.span.start)}: {problem.message}")
    return _Reader(document).readings()


def _where(document: Document, offset: int) -> str:
    line, column = document.position(offset)
    return f"{document.name}:{line}:{column}"


class _Reader:
    """One document on its way to readings."""

    def __init__(self, document: Document) -> None:
        self.document, self.values = document, document.values

    def refused(self, path: Path, why: str) -> Unreadable:
        return Unreadable(f"{_where(self.document, self.document.span(path).start)}: {why}")

    def readings(self) -> Readings:
        if self.values.get("readings") != 1:
            raise self.refused(("readings",), "readings = 1 is needed: the version of this format")
        self.known((), self.values, ("readings", "craft", "switches", "channels", "places"))
        craft = self.table(("craft",), self.values.get("craft", {}))
        self.known(("craft",), craft, CRAFT)
        for key, value in craft.items():
            if not isinstance(value, str):
                raise self.refused(("craft", key), "a text is needed")
        switches = {name: self.switch(name) for name in self.table(("switches",), self.values.get("switches", {}))}
        if sum(switch.use == "mode" for switch in switches.values()) > 1:
            raise self.refused(("switches",), "one switch alone can be for the mode")
        stops = [switch for switch in switches.values() if switch.use in ("hold", "stop", "rescue")]
        if len(switches) > MOST_SWITCHES or len(stops) > MOST_STOPS:
            many = f"{MOST_SWITCHES} switches, {MOST_STOPS} of them for hold, stop and rescue"
            raise self.refused(("switches",), f"{many}, are the most that can be read")
        channels = {name: self.channel(name) for name in self.table(("channels",), self.values.get("channels", {}))}
        places = self.values.get("places", [])
        if not channels or not isinstance(places, list) or not places:
            raise self.refused(("places",), "[channels.NAME] and [[places]] are needed")
        if len(places) > MOST_PLACES or len(channels) > MOST_CHANNELS:
            raise self.refused(
                ("places",), f"{MOST_PLACES} places of {MOST_CHANNELS} channels are the most that can be read"
            )
        return Readings(craft, switches, channels, tuple(self.place(n, switches, channels) for n in range(len(places))))

    def table(self, path: Path, what: Any) -> dict[str, Any]:
        if not isinstance(what, dict):
            raise self.refused(path, "a table is needed")
        return what

    def known(self, path: Path, table: Mapping[str, Any], keys: Iterable[str]) -> None:
        for key in table:
            if key not in keys:
                raise self.refused((*path, key), f"{key} is no key here: there is {', '.join(keys)}")

    def named(self, path: Path, name: str, taken: Iterable[str]) -> None:
        if reading(interview(), "name", name) != name or name in taken:
            raise self.refused(path, f"{name} is no name: {interview().readers['name']['says']}")

    def switch(self, name: str) -> ReadSwitch:
        path: Path = ("switches", name)
        self.named(path, name, NOT_NAMES)
        table = self.table(path, self.values["switches"][name])
        self.known(path, table, ("kind", "positions", "for", "calls"))
        kind, use = table.get("kind"), table.get("for", "other")
        positions = table.get("positions", DEFAULT_POSITIONS.get(str(kind)))
        if kind not in (*DEFAULT_POSITIONS, "selector"):
            raise self.refused((*path, "kind"), f"kind is one of {', '.join((*DEFAULT_POSITIONS, 'selector'))}")
        words = [isinstance(each, str) and reading(interview(), "name", each) == each for each in positions or []]
        if (
            not isinstance(positions, list | tuple)
            or not all(words)
            or not 2 <= len(set(positions)) == len(positions) <= 12
        ):
            raise self.refused((*path, "positions"), "2 to 12 different words are needed, the one at rest first")
        if use not in USES:
            raise self.refused((*path, "for"), f"for is one of {', '.join(USES)}")
        calls = table.get("calls", positions[-1])
        if calls not in positions[1:] and use in ("hold", "stop", "rescue"):
            raise self.refused((*path, "calls"), f"calls is one of {', '.join(positions[1:])}: the first is rest")
        return ReadSwitch(name, str(kind), tuple(positions), str(use), str(calls))

    def channel(self, name: str) -> tuple[str, int | None]:
        path: Path = ("channels", name)
        if name in RESERVED or reading(interview(), "name", f"x-{name}") != f"x-{name}":
            raise self.refused(path, f"{name} is no name")
        table = self.table(path, self.values["channels"][name])
        self.known(path, table, ("number", "drives"))
        number, drives = table.get("number"), table.get("drives", "other")
        if number is not None and (not isinstance(number, int) or not 1 <= number <= 32):
            raise self.refused((*path, "number"), "a whole number from 1 to 32 is needed")
        if drives not in DRIVES:
            raise self.refused((*path, "drives"), f"drives is one of {', '.join(DRIVES)}")
        return str(drives), number

    def place(self, index: int, switches: Mapping[str, ReadSwitch], channels: Mapping[str, Any]) -> ReadPlace:
        path: Path = ("places", index)
        table = self.table(path, self.values["places"][index])
        self.known(path, table, ("switches", "sticks", "reads"))
        moved, sticks, reads = (self.table((*path, key), table.get(key, {})) for key in ("switches", "sticks", "reads"))
        self.known((*path, "switches"), moved, switches)
        self.known((*path, "sticks"), sticks, STICKS)
        self.known((*path, "reads"), reads, channels)
        for name, position in moved.items():
            if position not in switches[name].positions:
                raise self.refused((*path, "switches", name), f"{name} has {', '.join(switches[name].positions)}")
        positions = {name: str(moved.get(name, switch.positions[0])) for name, switch in switches.items()}
        places = {stick: self.number((*path, "sticks", stick), at, 100) for stick, at in sticks.items()}
        outputs = {name: self.number((*path, "reads", name), value, 150) for name, value in reads.items()}
        return ReadPlace(positions, {**REST, **places}, outputs, index + 1)

    def number(self, path: Path, value: Any, most: int) -> Fraction:
        """A number, or a text that is read as `new` reads replies."""
        found: Any = value
        if isinstance(value, str):
            found = reading(interview(), "output", value)
        elif not _is_number(value) or not -most <= value <= most:
            found = None
        if found is None or abs(Fraction(found)) > most:
            raise self.refused(
                path, f"a number from -{most} to {most} is needed, or a text like “58 of 100” or “1580 µs”"
            )
        return Fraction(found)


def _is_number(value: Any) -> bool:
    """Of TOML's: no flag, and not its nan, which stands in no order."""
    return isinstance(value, int | Decimal) and not isinstance(value, bool) and value == value
