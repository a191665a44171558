"""Hazards seeded in what calls what: overrides, formulas, switches, conditions, alarms, sensors, the pack.

Each family takes a safe setup and gives every place where its kind can occur."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from tests.oracle.parts import POSITIONS

from .changes import GONE, Change, Path, Seed, Setup, formulas, one, plain, tables

MOTORS = ("motor", "collective")


def positions_of(switch: Mapping[str, Any]) -> list[str]:
    return list(switch.get("positions") or POSITIONS[switch["kind"]])


def priorities(setup: Setup) -> Iterator[Seed]:
    """Each override moved just over, level with, and just under every other of its channel; and to the bottom."""
    for name, table in tables(setup, "overrides"):
        yield one(("overrides", name, "priority"), -1)
        for other, beside in tables(setup, "overrides"):
            if other != name and beside["channel"] == table["channel"]:
                for step in (-1, 0, 1):
                    yield one(("overrides", name, "priority"), plain(beside.get("priority", 0)) + step)


def overrides_lost(setup: Setup) -> Iterator[Seed]:
    for name, _ in tables(setup, "overrides"):
        yield one(("overrides", name), GONE)


def override_values(setup: Setup) -> Iterator[Seed]:
    hover = setup.get("craft", {}).get("hover-throttle", 0)
    for name, table in tables(setup, "overrides"):
        drives = setup["channels"][table["channel"]].get("drives", "other")
        values = {"motor": [-100, -94, -90, -70, 0, hover, hover + 9, hover + 10, hover + 40, 91, 100]}
        for key in [key for key in ("value", "at-least", "at-most") if key in table]:
            for value in values.get(drives, [-100, -40, 0, 39, 60, 100]):
                if value != table[key]:
                    yield one(("overrides", name, key), plain(value))
            yield one(("overrides", name, key), plain(-table[key]))


def is_atoms(setup: Setup) -> Iterator[tuple[Path, str, re.Match[str]]]:
    for path, text in formulas(setup):
        for match in re.finditer(r"([a-z][a-z0-9-]*) is (not )?([a-z][a-z0-9-]*)", text):
            if match[1] in setup.get("switches", {}):
                yield path, text, match


def swapped_positions(setup: Setup) -> Iterator[Seed]:
    """A formula that names another position, and one that is negated."""
    for path, text, match in is_atoms(setup):
        for word in positions_of(setup["switches"][match[1]]):
            if word != match[3]:
                yield one(path, f"{text[: match.start(3)]}{word}{text[match.end(3) :]}")
        yield one(path, f"{text[: match.start()]}not {match[0]}{text[match.end() :]}")


def other_switches(setup: Setup) -> Iterator[Seed]:
    """A formula that names the wrong switch."""
    for path, text, match in is_atoms(setup):
        for name, table in tables(setup, "switches"):
            if name != match[1]:
                word = positions_of(table)[-1]
                yield one(path, f"{text[: match.start()]}{name} is {word}{text[match.end() :]}")


def joined(setup: Setup) -> Iterator[Seed]:
    """More asked for, or less: `and` a switch at rest, `or` a switch in its last position; `and` and `or` exchanged."""
    for path, text in formulas(setup):
        if " and " in text or " or " in text:
            yield one(path, re.sub(r"\b(and|or)\b", lambda m: {"and": "or", "or": "and"}[m[0]], text))
        if path[0] not in ("overrides", "intent", "alarms"):
            continue
        for name, table in tables(setup, "switches"):
            words = positions_of(table)
            if f"{name} is" not in text:
                yield one(path, f"({text}) and {name} is {words[0]}")
                yield one(path, f"{text} or {name} is {words[-1]}")


def switch_kinds(setup: Setup) -> Iterator[Seed]:
    """A spring that is none, a switch that springs back, and positions the other way round."""
    for name, table in tables(setup, "switches"):
        words = list(positions_of(table))
        if len(words) == 2:
            kind = "two-position" if table["kind"] == "momentary" else "momentary"
            yield (
                f"switches.{name} {kind}",
                [(("switches", name, "kind"), kind), (("switches", name, "positions"), words)],
            )
        yield one(("switches", name, "positions"), words[::-1])


def behind_conditions(setup: Setup) -> Iterator[Seed]:
    """What a switch calls, called through a condition: latched, toggled, delayed, lingering."""
    kinds: dict[str, dict[str, Any]] = {
        "latched": {"until": "throttle < -90"},
        "toggled": {"toggles": True},
        "a little late": {"after": Decimal("0.2")},
        "late": {"after": Decimal("0.6")},
        "lingering": {"stays": 3},
    }
    places: dict[str, list[tuple[Path, str]]] = {}
    for path, text, match in is_atoms(setup):
        if path[0] in ("overrides", "intent"):
            places.setdefault(match[0], []).append((path, text))
    for atom, found in places.items():
        for kind, keys in kinds.items():
            made: Change = (("conditions", "seeded"), {"when": atom, **keys})
            everywhere = [(path, text.replace(atom, "seeded")) for path, text in dict(found).items()]
            wired = [change for change in everywhere if change[0][0] == "overrides"]
            yield f"{atom} {kind} everywhere", [made, *everywhere]
            for change in wired:
                yield f"{atom} {kind} in {change[0][1]}", [made, change]


def armed_rescues(setup: Setup) -> Iterator[Seed]:
    """A rescue that works once something has armed it: a lift-off remembered until the hold, the stick now, a switch."""
    rescue = setup.get("intent", {}).get("rescue", "")
    motors = [n for n, t in tables(setup, "channels") if t.get("drives") == "motor"]
    arming: dict[str, dict[str, Any]] = {
        "the stick once up": {"when": "throttle > -60", "until": "hold is on"},
        "the stick once far up": {"when": "throttle > 40", "until": "hold is on"},
        "the stick up, until it is down": {"when": "throttle > -60", "until": "throttle < -90 or hold is on"},
        "the stick now": {"when": "throttle > -60"},
        "the stick once up, for good": {"when": "throttle > -60 and not hold is on", "until": "throttle > 100"},
        "a while after the stick": {"when": "throttle > -60", "after": 1},
        "toggled by the stick": {"when": "throttle > -60", "toggles": True},
    }
    for what, keys in arming.items():
        made: list[Change] = [(("conditions", "armed"), keys)]
        for name, table in tables(setup, "overrides"):
            if rescue and rescue in table["when"]:
                made.append((("overrides", name, "when"), f"({table['when']}) and armed"))
        if len(made) > 1:
            yield f"rescue armed by {what}", made
            yield f"rescue armed by {what}, in words too", [*made, (("intent", "rescue"), f"({rescue}) and armed")]
            for motor in motors:
                yield f"{what}, and a weak one", [*made, (("channels", motor, "travel"), [100, 40])]


def conditions_changed(setup: Setup) -> Iterator[Seed]:
    for name, table in tables(setup, "conditions"):
        for key in ("after", "stays", "until", "toggles"):
            if key in table:
                yield one(("conditions", name, key), GONE)
        if "until" in table:
            yield f"{name} toggles", [(("conditions", name, "until"), GONE), (("conditions", name, "toggles"), True)]
            yield one(("conditions", name, "until"), table["when"])
        if "toggles" in table:
            yield (
                f"{name} latches",
                [(("conditions", name, "toggles"), GONE), (("conditions", name, "until"), "hold is on")],
            )
        yield one(("conditions", name, "when"), f"not ({table['when']})")
        yield one(("conditions", name, "when"), "throttle >= -100")


def comparisons(setup: Setup) -> Iterator[Seed]:
    """A comparison the other way round, or with another number."""
    for path, text in formulas(setup):
        for match in re.finditer(r"([a-z][a-z0-9-]*(?: [a-z-]+)?) (<=|>=|<|>) (-?[0-9.]+)", text):
            flipped = {"<": ">", ">": "<", "<=": ">=", ">=": "<="}[match[2]]
            yield one(path, f"{text[: match.start(2)]}{flipped}{text[match.end(2) :]}")
            number = Decimal(match[3])
            for value in (number * Decimal("0.7"), number * Decimal("0.9"), number * Decimal("1.2")):
                yield one(path, f"{text[: match.start(3)]}{plain(round(value, 2))}{text[match.end(3) :]}")


def sensors_renamed(setup: Setup) -> Iterator[Seed]:
    """A formula that asks another sensor."""
    names = list(setup.get("sensors", {}))
    for path, text in formulas(setup):
        for match in re.finditer(r"[a-z][a-z0-9-]*", text):
            if match[0] in names and text[match.end() :].lstrip()[:1] in ("<", ">", "i"):
                for other in names:
                    if other != match[0]:
                        yield one(path, f"{text[: match.start()]}{other}{text[match.end() :]}")


def packs(setup: Setup) -> Iterator[Seed]:
    """Another count of cells, another chemistry, another pack."""
    battery = setup.get("battery", {})
    cells = battery.get("cells", 0)
    for value in (cells - 2, cells - 1, cells + 1, cells * 2):
        if 1 <= value <= 24:
            yield one(("battery", "cells"), value)
    for kind in ("lipo", "lihv", "li-ion", "life"):
        if kind != battery.get("chemistry"):
            yield one(("battery", "chemistry"), kind)
    for key, factor in (("resistance-mohm", 6), ("capacity-mah", Decimal("0.5")), ("hover-current-a", 2)):
        if key in battery:
            yield one(("battery", key), plain(battery[key] * factor))
    low = [(n, t["when"]) for n, t in tables(setup, "conditions") if re.fullmatch(r"pack < [0-9.]+", str(t["when"]))]
    for name, _ in low if cells else ():
        for volts in ("3.0", "3.05", "3.3", "3.31", "3.45", "3.6"):
            threshold: Change = (("conditions", name, "when"), f"pack < {plain(cells * Decimal(volts))}")
            yield f"{volts} V a cell", [threshold]
            if "resistance-mohm" in battery:
                yield f"{volts} V a cell, no resistance", [threshold, (("battery", "resistance-mohm"), GONE)]
    if "peak-current-a" in battery:
        yield one(("battery", "peak-current-a"), plain(battery["peak-current-a"] * 4))


def charges_counted(setup: Setup) -> Iterator[Seed]:
    """An alarm of the charge used, in time and late, beside the voltage's and without it."""
    capacity = setup.get("battery", {}).get("capacity-mah")
    if capacity is None:
        return
    mode = next(iter(setup.get("modes", {})), None)
    volts = [n for n, t in tables(setup, "sensors") if t["reads"] in ("pack-voltage", "cell-voltage")]
    quiet = [n for n, t in tables(setup, "alarms") if any(re.search(rf"\b{v}\b", t["when"]) for v in volts)]
    low = [n for n, t in tables(setup, "conditions") if any(re.search(rf"\b{v}\b", t["when"]) for v in volts)]
    low_too = [n for n, t in tables(setup, "alarms") if any(c in t["when"] for c in low)]
    gone: list[Change] = [(("sensors", n), GONE) for n in volts]
    gone += [(("alarms", n), GONE) for n in dict.fromkeys([*quiet, *low_too])]
    gone += [(("conditions", n), GONE) for n in low]
    gone += [(("timers", n), GONE) for n, _ in tables(setup, "timers")]
    for share in (70, 80, 81, 95):
        number = plain(round(Decimal(str(capacity)) * share / 100, 1))
        whens = [f"used-up >= {number}", f"used-up > {number} and hold is off", f"not used-up < {number}"]
        whens += [f"used-up > {number} and mode is {mode}"] if mode else []
        for when in whens:
            made: list[Change] = [
                (("sensors", "used-up"), {"reads": "charge-used"}),
                (("alarms", "charge"), {"when": when, "voice": "charge", "repeat": 10}),
            ]
            yield f"alarm {when}", made
            yield f"alarm {when} alone", [*made, *gone]


def alarms_changed(setup: Setup) -> Iterator[Seed]:
    for name, table in tables(setup, "alarms"):
        yield one(("alarms", name), GONE)
        sounds = [key for key in ("voice", "tone", "vibrate") if key in table]
        yield f"alarms.{name} silent", [(("alarms", name, key), GONE) for key in sounds]
        if "repeat" in table:
            yield one(("alarms", name, "repeat"), GONE)
        for value in (0, 7, 12):
            yield one(("alarms", name, "repeat"), value)
        for other, beside in tables(setup, "alarms"):
            if other != name and "voice" in beside:
                yield one(("alarms", name, "voice"), str(beside["voice"]).upper())
        yield one(("alarms", name, "when"), f"({table['when']}) and throttle > 0")
        yield one(("alarms", name, "when"), f"not ({table['when']})")
        yield (
            one(("alarms", name, "when"), f"({table['when']}) and mode is {next(iter(setup['modes']), '')}")
            if setup.get("modes")
            else one(("alarms", name, "when"), f"{table['when']} or hold is on")
        )
