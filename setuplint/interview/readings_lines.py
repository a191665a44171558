"""What a channel does with its switches in one combination of positions, by its readings there: nothing, or follow sticks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from setuplint.dataclass import dataclass
from setuplint.interview.readings import REST, Readings, ReadPlace, Unreadable
from setuplint.setup.declarations import STICKS

Combination = tuple[tuple[str, str], ...]  # switches that are off rest, in the order of the file
Points = tuple[tuple[Fraction, Fraction], ...]
OWN = {"aileron": "aileron", "elevator": "elevator", "rudder": "rudder"}  # else the throttle
MOST = 150


class MovedTogether(Unreadable):
    """Two sticks that a channel follows were moved at once."""


@dataclass(frozen=True, slots=True)
class FittedLine:
    """What a channel gives: the points of its main stick, and what others add to it. Without points it stands at `constant`."""

    constant: Fraction = Fraction(0)
    main: str = ""
    points: Points = ()
    added: tuple[tuple[str, Points], ...] = ()

    def output(self, sticks: Mapping[str, Fraction]) -> Fraction | None:
        """At a place; None where the sticks stand where nothing was read."""
        if not self.points:
            return self.constant
        total = dict(self.points).get(sticks[self.main])
        for stick, points in self.added:
            more = dict(points).get(sticks[stick])
            total = None if total is None or more is None else total + more
        return total


def combination_of(readings: Readings, place: ReadPlace) -> Combination:
    return tuple((name, at) for name, at in place.positions.items() if at != readings.switches[name].positions[0])


def fitted_lines(readings: Readings) -> dict[Combination, dict[str, FittedLine]]:
    """By the combinations that were read, the one at rest first. Unreadable where readings contradict each other."""
    places: dict[Combination, list[ReadPlace]] = {(): []}
    for place in readings.places:
        places.setdefault(combination_of(readings, place), []).append(place)
    found: dict[Combination, dict[str, FittedLine]] = {key: {} for key in places}
    for channel, (drives, _) in readings.channels.items():
        sticks = followed_sticks(channel, places[()]) or [OWN.get(drives, "throttle")]
        for key, there in places.items():
            rows = [place for place in there if channel in place.reads]
            if rows:
                found[key][channel] = _line_there(channel, rows, sticks)
    return found


def followed_sticks(channel: str, places: Iterable[ReadPlace]) -> list[str]:
    """The sticks that a channel follows with all switches at rest, by those readings in which one stick alone is moved."""
    rows = [place for place in places if channel in place.reads]
    still = next((place.reads[channel] for place in rows if place.sticks == REST), None)
    found = []
    for stick in STICKS:
        alone = [p for p in rows if all((p.sticks[s] == REST[s]) == (s != stick) for s in STICKS)]
        if any(place.reads[channel] != still for place in alone):
            found.append(stick)
    return found


def stick_groups(readings: Readings) -> list[list[str]]:
    """Sticks that can be moved at once in all other combinations, since no channel follows two of one group."""
    still = [place for place in readings.places if not combination_of(readings, place)]
    together = [followed_sticks(channel, still) for channel in readings.channels]
    groups: list[list[str]] = []
    for stick in STICKS:
        for group in groups:
            if not any(stick in some and other in some for some in together for other in group):
                group.append(stick)
                break
        else:
            groups.append([stick])
    return groups


def _line_there(channel: str, rows: list[ReadPlace], sticks: list[str]) -> FittedLine:
    """By the sticks that it follows with all switches at rest; where that cannot be, by one stick alone."""
    first: Unreadable | None = None
    for some in (sticks, *([stick] for stick in STICKS)):
        try:
            return _line(channel, rows, some)
        except MovedTogether:
            raise
        except Unreadable as unreadable:
            first = first or unreadable
    assert first is not None
    raise first


def _line(channel: str, rows: list[ReadPlace], sticks: list[str]) -> FittedLine:
    """By the places in which at most one of the sticks is off rest."""
    if len({place.reads[channel] for place in rows}) == 1:
        return FittedLine(rows[0].reads[channel])
    values: dict[tuple[str, Fraction], tuple[Fraction, int]] = {}
    for place in rows:
        moved = [stick for stick in sticks if place.sticks[stick] != REST[stick]]
        if len(moved) > 1:
            raise MovedTogether(
                f"place {place.number}: {channel} follows {' and '.join(moved)}, so these are read one by one"
            )
        for stick in moved or sticks:
            value = place.reads[channel], place.number
            before = values.setdefault((stick, place.sticks[stick]), value)
            if before[0] != value[0]:
                pair = f"places {before[1]} and {place.number}"
                raise Unreadable(
                    f"{pair} contradict each other about {channel}, if it follows {stick}: read both again"
                )
    lines = {s: tuple(sorted((x, y) for (stick, x), (y, _) in values.items() if stick == s)) for s in sticks}
    main = max(
        sticks, key=lambda s: max((y for _, y in lines[s]), default=0) - min((y for _, y in lines[s]), default=0)
    )
    return _line_of(channel, main, lines)


def _line_of(channel: str, main: str, lines: dict[str, Points]) -> FittedLine:
    added = []
    for stick, points in lines.items():
        still = dict(points).get(REST[stick])
        if stick != main and still is not None and any(y != still for _, y in points):
            added.append((stick, tuple((x, y - still) for x, y in points)))
    if any(abs(y) > MOST for _, points in added for _, y in points):
        raise Unreadable(f"{channel} follows {main} and {added[0][0]} further than a curve can be written")
    return FittedLine(main=main, points=lines[main], added=tuple(added))
