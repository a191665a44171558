"""Hazards seeded in channels, modes, curves, the craft, the start, the intent, the failsafe, timers, trims, claims."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import pairwise
from typing import Any

from .changes import GONE, Path, Seed, Setup, formulas, one, plain, tables
from .wiring import positions_of

MOTORS = ("motor", "collective")
OWN = {"aileron": "aileron", "elevator": "elevator", "rudder": "rudder", "collective": "throttle"}


def servos(setup: Setup) -> Iterator[Seed]:
    """Reversed channels, cut travel, shifted middles, limits."""
    for name, _ in tables(setup, "channels"):
        reversed_ = setup["channels"][name].get("reversed", False)
        yield one(("channels", name, "reversed"), not reversed_)
        for travel in ([100, 60], [60, 100], [90, 100], [120, 120]):
            yield one(("channels", name, "travel"), travel)
        for value in (-12, 5, 12):
            yield one(("channels", name, "sub-trim"), value)
        yield one(("channels", name, "low"), -80)
        yield one(("channels", name, "high"), 30)


def lines(setup: Setup) -> Iterator[Seed]:
    """Lines that read another stick, another rate or expo, more than one stick, or that lag."""
    for name, table in tables(setup, "channels"):
        source = table.get("from")
        analog = source in ("throttle", "aileron", "elevator", "rudder") or source in setup.get("knobs", {})
        drives = table.get("drives", "other")
        paths: list[Path] = [("channels", name), *(("channels", name, "in", mode) for mode in table.get("in", {}))]
        for path in paths:
            holder = table if len(path) == 2 else table["in"][path[3]]
            yield f"{'.'.join(map(str, path))} a number", [(path, a_number(holder))]
            for key, value in (("ramp-up", 3), ("ramp-down", 2), ("ramp-down", Decimal("0.4"))):
                if drives in (*MOTORS, "stabiliser"):
                    yield one((*path, key), value)
            if analog and isinstance(holder.get("from", source), str):
                for value in (-100, 50, 110):
                    yield one((*path, "rate"), value)
                for value in (-20, 70):
                    yield one((*path, "expo"), value)
        if analog:
            yield one(("channels", name, "from"), "elevator" if source == "throttle" else "throttle")
        for stick in ("throttle", "rudder"):
            mixed = [*table.get("mix", []), {"from": stick, "rate": 25}]
            if stick != source and all(term["from"] != stick for term in table.get("mix", [])):
                yield f"{name} mixed with {stick}", [(("channels", name, "mix"), mixed)]
        if isinstance(source, str) and drives == "motor":
            yield (
                f"{name} mixed with a knob",
                [(("knobs", "extra"), {}), (("channels", name, "mix"), [{"from": "extra", "rate": 20}])],
            )
        for word in table.get("values", {}):
            for value in (-100, 0, 100):
                if value != table["values"][word]:
                    yield one(("channels", name, "values", word), value)


def slips(setup: Setup) -> Iterator[Seed]:
    """In the line of a control: each sign, each rate by a switch or not, in each mode and position; other sticks; sticks dead by
    half, stronger one way, slow."""
    for name, table in tables(setup, "channels"):
        own = OWN.get(table.get("drives", "other"))
        if own is None:
            continue
        for path, holder in lines_of(setup, name, table):
            whole = {**table, **holder}
            rate = whole.get("rate", 100)
            if not isinstance(whole.get("from"), str):
                continue
            if isinstance(rate, dict):
                for position, amount in rate["at"].items():
                    for value in (-amount, 0):
                        yield (
                            f"{'.'.join(path)} rate at {position} {value}",
                            [((*path, "rate"), slipped(rate, position, value))],
                        )
            else:
                for switch, words in ((s, positions_of(t)) for s, t in tables(setup, "switches")):
                    for position in words:
                        by = {"switch": switch, "at": dict.fromkeys(words, rate)}
                        for value in (-rate, 0):
                            yield (
                                f"{'.'.join(path)} rate by {switch}, {position} {value}",
                                [((*path, "rate"), slipped(by, position, value))],
                            )
                yield one((*path, "rate"), plain(-rate))
                yield one((*path, "rate"), 0)
            for points in (
                [[-100, 0], [0, 0], [100, 100]],
                [[-100, -100], [0, -1], [100, 0]],
                [[-100, -50], [0, 0], [100, 90]],
            ):
                yield (
                    f"{'.'.join(path)} by {points}",
                    [(("curves", "seeded"), {"points": points}), ((*path, "curve"), "seeded")],
                )
            for other in OWN.values():
                if other != whole["from"] and all(term["from"] != other for term in whole.get("mix", [])):
                    yield one((*path, "from"), other)
            yield one((*path, "ramp-up"), Decimal("0.5"))
            yield one((*path, "ramp-down"), Decimal("0.3"))
        for values in ([40, 100], [0, 100], [100, 0]):
            yield one(("channels", name, "travel"), values)
        for switch, words in ((s, positions_of(t)) for s, t in tables(setup, "switches")):
            for key in ("value", "at-most"):
                held = {"channel": name, key: 0, "when": f"{switch} is {words[-1]}"}
                yield f"{name} {key} 0 with {switch} {words[-1]}", [(("overrides", "seeded"), held)]


def gains(setup: Setup) -> Iterator[Seed]:
    """A gyro's gain: each number's sign and none at all, in each mode; by each switch; held by an override in each place."""
    for name, table in tables(setup, "channels"):
        if table.get("drives") != "gyro-gain":
            continue
        for path, holder in lines_of(setup, name, table):
            number = {**table, **holder}.get("from", 0)
            for value in (-number, 10, -16) if not isinstance(number, str) else ():
                yield one((*path, "from"), plain(value))
        for word, value in table.get("values", {}).items():
            for other in (-value, 0, -10):
                yield one(("channels", name, "values", word), plain(other))
        for switch, words in ((s, positions_of(t)) for s, t in tables(setup, "switches")):
            for word in words:
                for value in (8, -45):
                    held = {"channel": name, "value": value, "when": f"{switch} is {word}", "priority": 7}
                    yield f"{name} {value} with {switch} {word}", [(("overrides", "seeded"), held)]
            by = {
                "number": 31,
                "drives": "gyro-gain",
                "from": switch,
                "values": dict.fromkeys(words, 40) | {words[0]: -40},
            }
            yield f"{name} by {switch}", [(("channels", name), by)]


def levels(setup: Setup) -> Iterator[Seed]:
    """What levels the craft, on in each mode and in all of them; an override that does so."""
    level = setup.get("intent", {}).get("level")
    if not isinstance(level, dict):
        return
    name = level["channel"]
    for value in (-100, 100):
        yield f"{name} is {value}", [(("channels", name), {**a_number(setup["channels"][name]), "from": value})]
        for mode in setup.get("modes", {}):
            yield one(("channels", name, "in", mode, "from"), value)
        for mode in setup.get("modes", {}):
            held = {"channel": name, "value": value, "when": f"mode is {mode}", "priority": 7}
            yield f"{name} {value} in {mode}", [(("overrides", "seeded"), held)]
            yield (
                f"{name} {value} in {mode}, aerobatic",
                [
                    (("overrides", "seeded"), held),
                    (("modes", mode, "aerobatic"), True),
                ],
            )


def lines_of(setup: Setup, name: str, table: Mapping[str, Any]) -> list[tuple[tuple[str, ...], Mapping[str, Any]]]:
    """A channel's own line, and that of each mode."""
    modes = setup.get("modes", {})
    return [(("channels", name), {}), *((("channels", name, "in", m), table.get("in", {}).get(m, {})) for m in modes)]


def slipped(rate: Mapping[str, Any], position: str, value: Any) -> dict[str, Any]:
    return {"switch": rate["switch"], "at": {**rate["at"], position: plain(value)}}


def a_number(line: Mapping[str, Any]) -> dict[str, Any]:
    """The line with a fixed number in place of its stick or switch; what modes have of their own goes too."""
    kept = {key: value for key, value in line.items() if key not in ("rate", "expo", "curve", "values", "in")}
    return {**kept, "from": 0}


def fixed_lines(setup: Setup) -> Iterator[Seed]:
    """Channels that put out a number, in a mode or always: another number."""
    for name, table in tables(setup, "channels"):
        paths: list[Path] = [("channels", name), *(("channels", name, "in", mode) for mode in table.get("in", {}))]
        for path in paths:
            holder = table if len(path) == 2 else table["in"][path[3]]
            if "from" in holder and not isinstance(holder["from"], str):
                for value in (-100, -90, 0, 10, 20, 60, 100):
                    yield one((*path, "from"), value)


def forgotten_in(setup: Setup) -> Iterator[Seed]:
    """What differs in a mode, forgotten."""
    for name, table in tables(setup, "channels"):
        for mode in table.get("in", {}):
            yield one(("channels", name, "in", mode), GONE)
            for key in table["in"][mode]:
                yield one(("channels", name, "in", mode, key), GONE)


def modes_changed(setup: Setup) -> Iterator[Seed]:
    """Modes forgotten, in another order, without their voice; idle-up that is not one and one that is."""
    modes = setup.get("modes", {})
    for name, table in modes.items():
        used = [(("channels", c, "in", name), GONE) for c, t in tables(setup, "channels") if name in t.get("in", {})]
        named = any(f"mode is {name}" in text for _, text in formulas(setup))
        if not named:
            yield f"modes.{name} forgotten", [*used, (("modes", name), GONE)]
        if "voice" in table:
            yield one(("modes", name, "voice"), GONE)
        yield one(("modes", name, "idle-up"), not table.get("idle-up", table.get("aerobatic", False)))
        yield one(("modes", name, "aerobatic"), not table.get("aerobatic", False))
        for switch, words in ((s, positions_of(t)) for s, t in tables(setup, "switches")):
            yield one(("modes", name, "when"), f"{switch} is {words[-1]}")
        others = {key: value for key, value in modes.items() if key != name}
        if "when" in table and all("when" in t for t in others.values()):
            yield f"modes.{name} last", [(("modes",), {**others, name: table})]
        if "when" in table:
            yield f"modes.{name} first", [(("modes",), {name: table, **others})]


def curves_changed(setup: Setup) -> Iterator[Seed]:
    """Each point moved, each left out, each smoothing."""
    for name, table in tables(setup, "curves"):
        points = table["points"]
        for k, (x, y) in enumerate(points):
            for step in (-35, -12, 12, 35):
                if -150 <= y + step <= 150:
                    moved = [*points[:k], [x, plain(y + step)], *points[k + 1 :]]
                    yield f"curves.{name} point {k} {step:+}", [(("curves", name, "points"), moved)]
            if len(points) > 2:
                yield f"curves.{name} point {k} left out", [(("curves", name, "points"), points[:k] + points[k + 1 :])]
        for smoothing in ("none", "monotone", "cardinal", "natural", "unknown"):
            if smoothing != table.get("smoothing", "none"):
                yield one(("curves", name, "smoothing"), smoothing)


def crafts(setup: Setup) -> Iterator[Seed]:
    craft = setup["craft"]
    for value in (-100, -99, -70):
        yield one(("craft", "motor-off"), value)
    for key in ("hover-throttle", "hover-collective"):
        if key in craft:
            for step in (-30, -15, 10, 30, 45):
                yield one(("craft", key), plain(craft[key] + step))
    for key in ("soft-start", "arms-when-stopped"):
        yield one(("craft", key), not craft.get(key, False))
    if "rotor-free" in craft:
        yield one(("craft", "rotor-free"), GONE)
    yield one(("craft", "governed-above"), GONE if "governed-above" in craft else 15)
    yield one(("craft", "governed-above"), 60)


def starts(setup: Setup) -> Iterator[Seed]:
    requires = setup.get("start", {}).get("requires", "")
    parts = requires.split(" and ")
    yield one(("start",), GONE)
    for k in range(len(parts)):
        left = parts[:k] + parts[k + 1 :]
        if left:
            yield one(("start", "requires"), " and ".join(left))
    yield one(("start", "requires"), f"{requires} and throttle > 0")
    hard = (("craft", "soft-start"), False)
    for text in ("hold is on", "hold is on and throttle < -89", "hold is on and throttle <= -90", "throttle < 0"):
        yield f"start.requires = {text}, no soft start", [hard, (("start", "requires"), text)]
    for k in range(len(parts)):
        left = " and ".join(parts[:k] + parts[k + 1 :])
        yield f"start.requires = {left}, no soft start", [hard, (("start", "requires"), left or "hold is on")]
    for name, table in tables(setup, "switches"):
        yield one(("start", "requires"), f"{name} is {positions_of(table)[-1]}")
        yield one(
            ("start", "requires"),
            f"hold is on and {name} is {positions_of(table)[-1]}" if name != "hold" else "hold is off",
        )


def intents(setup: Setup) -> Iterator[Seed]:
    intent = setup.get("intent", {})
    for key in intent:
        yield one(("intent", key), GONE)
    for key in ("hold", "stop", "rescue"):
        for name, table in tables(setup, "switches"):
            yield one(("intent", key), f"{name} is {positions_of(table)[-1]}")
    for name in setup.get("channels", {}):
        yield one(("intent", "level"), {"channel": name, "at-most": -50})
        yield one(("intent", "level"), {"channel": name, "value": 100})
        if setup["channels"][name].get("drives") == "collective":
            yield one(("intent", "lift"), {"channel": name, "at-least": 35})
    if isinstance(intent.get("lift"), dict):
        yield one(("intent", "lift", "at-least"), 60)
        yield one(("intent", "lift"), "unit")


def failsafes(setup: Setup) -> Iterator[Seed]:
    """No failsafe, every entry left out, every channel with each kind of entry, all of them kept or none at 0."""
    yield one(("failsafe",), GONE)
    entries = setup.get("failsafe", {})
    for name, table in tables(setup, "channels"):
        if name in entries:
            yield one(("failsafe", name), GONE)
        drives = table.get("drives", "other")
        near = {"motor": (-70, -94), "collective": (5, 6, -30, -31), "gyro-gain": (15, -15, 16)}.get(drives, (-10, 11))
        for value in ("keep", "unit", "none", -100, -95, 0, 40, 100, *near):
            if value != entries.get(name):
                yield one(("failsafe", name), value)
    yield "every control kept", [(("failsafe", name), "keep") for name in entries if name != "motor"]
    yield "taught at zero", [(("failsafe", name), 0) for name, _ in tables(setup, "channels") if name != "motor"]


def timers_changed(setup: Setup) -> Iterator[Seed]:
    for name, table in tables(setup, "timers"):
        yield one(("timers", name), GONE)
        for factor in (Decimal("0.5"), Decimal("1.3"), 3):
            yield one(("timers", name, "seconds"), plain(round(table["seconds"] * factor, 1)))
        for key in ("voice", "tone", "vibrate", "runs"):
            if key in table:
                yield one(("timers", name, key), GONE)
        yield (
            one(("timers", name, "runs"), f"not ({table['runs']})")
            if "runs" in table
            else one(("timers", name, "runs"), "throttle > 0")
        )
        yield one(("timers", name, "runs"), "throttle > -50")


def trims(setup: Setup) -> Iterator[Seed]:
    for value in (2, 6, 12, 30):
        yield one(("sticks", "throttle", "trim"), value)
    yield one(("sticks", "throttle"), GONE)
    for stick in ("aileron", "elevator", "rudder"):
        yield one(("sticks", stick, "trim"), 8)
        for value in (True, False):
            yield (
                f"{stick} trimmed, stabilised {value}",
                [(("sticks", stick, "trim"), 8), (("craft", "stabilised"), value)],
            )


def mixes(setup: Setup) -> Iterator[Seed]:
    """Another stick mixed into each control, on a stabilised craft and one that is not; in one mode alone; in two channels."""
    names = [name for name, table in tables(setup, "channels") if table.get("drives") in OWN]
    for name in names:
        table = setup["channels"][name]
        for stick in OWN.values():
            if stick == table.get("from") or any(term["from"] == stick for term in table.get("mix", [])):
                continue
            mixed = (("channels", name, "mix"), [*table.get("mix", []), {"from": stick, "rate": 15}])
            for value in (True, False):
                yield f"{name} mixed with {stick}, stabilised {value}", [mixed, (("craft", "stabilised"), value)]
            for mode in setup.get("modes", {}):
                path = ("channels", name, "in", mode, "mix")
                yield f"{name} mixed with {stick} in {mode}", [(path, mixed[1]), (("craft", "stabilised"), True)]
            for other in (n for n in names if n > name and setup["channels"][n].get("from") == stick):
                back = (("channels", other, "mix"), [{"from": table.get("from"), "rate": -15}])
                if isinstance(table.get("from"), str):
                    yield f"{name} and {other} mixed", [mixed, back, (("craft", "stabilised"), True)]


def numbers(setup: Setup) -> Iterator[Seed]:
    """One number at the receiver given to two channels."""
    names = [name for name, table in tables(setup, "channels") if "number" in table]
    for name, other in pairwise(names):
        yield one(("channels", name, "number"), setup["channels"][other]["number"])


def claims_added(setup: Setup) -> Iterator[Seed]:
    motors = [n for n, t in tables(setup, "channels") if t.get("drives") == "motor"]
    claims = list(setup.get("claims", []))
    added: list[dict[str, str]] = [
        {"never": "rescue called and hold called and motor runs"},
        {"always": f"hold called or output {motors[0]} > -80"},
        {"never": f"output {motors[0]} > 75 and not rescue called"},
        {"always": "rescue called or sprung switches released"},
        {"never": "flying and start allowed"},
    ]
    for claim in added:
        yield f"claim {claim}", [(("claims",), [*claims, claim])]
