"""`setuplint new --from-readings`: a setup that gives what was read, held against every place before it is given out."""

from __future__ import annotations

from setuplint import library
from setuplint.cli import single_setup
from setuplint.cli.console import stdout_look
from setuplint.cli.trouble import Trouble
from setuplint.formats.numbers import counted
from setuplint.formats.terminal import plain, wrap
from setuplint.interview.readings import REST, Readings, Unreadable, planned_places, read_readings
from setuplint.interview.readings_lines import stick_groups
from setuplint.interview.readings_parts import Parts, formula_words
from setuplint.interview.readings_setup import open_points, readings_text
from setuplint.plain.evaluate import evaluate
from setuplint.plain.settings import first
from setuplint.plain.state import OFF

MOST = 5  # places that are named one by one


def setup_from_readings(path: str) -> tuple[str, str]:
    """The text of the setup, and what stays open in words. Trouble where the readings cannot be taken."""
    name, data = single_setup.name_and_content(path)
    try:
        readings = read_readings(data.decode("utf-8-sig", errors="replace"), name)
        parts = Parts(readings)
        missing = _missing_places(readings)
        text = readings_text(parts, missing)
    except Unreadable as unreadable:
        raise Trouble(f"{unreadable}; nothing was written") from None
    held_against(text, readings)
    opened = [*missing, *open_points(parts)]
    lines = [f"It gives what was read at all of {counted(len(readings.places), 'place')}: that was tried. Open:"]
    lines += [line for each in opened for line in wrap(plain(each), stdout_look().width, "- ", "  ")]
    return text, "\n".join([*lines, "", ""])


def _missing_places(readings: Readings) -> list[str]:
    """Places that the card asks for, and at which some channel was not read, in words."""
    read: dict[object, frozenset[str]] = {}
    for place in readings.places:
        key = (tuple(place.positions.items()), tuple(place.sticks.items()))
        read[key] = read.get(key, frozenset()) | place.reads.keys()
    lacking = []
    for moved, sticks in planned_places(readings.switches.values(), stick_groups(readings)):
        positions = {name: moved.get(name, switch.positions[0]) for name, switch in readings.switches.items()}
        key = (tuple(positions.items()), tuple({**REST, **sticks}.items()))
        if not readings.channels.keys() <= read.get(key, frozenset()):
            where = formula_words(moved.items()) or "all switches at rest"
            at = ", ".join(f"{stick} {float(x):g}" for stick, x in sticks.items()) or "sticks at rest"
            lacking.append(f"{where}, {at}")
    if not lacking:
        return []
    more = f"; and {len(lacking) - MOST} more" if len(lacking) > MOST else ""
    return [
        f"{counted(len(lacking), 'place')} of the card without a reading of each channel: {'; '.join(lacking[:MOST])}{more}"
    ]


def held_against(text: str, readings: Readings) -> None:
    """By the plain evaluator. Trouble where the setup gives anything else than what was read."""
    loaded = library.load_text(text)
    if single_setup.mistake_count(loaded):
        raise Trouble("these readings make no setup that can be read; nothing was written")
    for place in readings.places:
        state = first(loaded.model, {**place.sticks, **place.positions}, heard=True)
        outputs = evaluate(loaded.model, state, OFF).outputs
        for channel, read in place.reads.items():
            if outputs.get(channel) != read:
                where = f"place {place.number}, channel {channel}"
                raise Trouble(f"{where}: no setup was found that gives {float(read):g} there; nothing was written")
