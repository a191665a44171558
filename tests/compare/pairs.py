"""Pairs of random set-ups: one, and the same with a few random changes."""

from __future__ import annotations

import re
from copy import deepcopy
from random import Random
from typing import Any

import setuplint
from tests.oracle.meaning import World
from tests.oracle.pick import Pick, number
from tests.oracle.setups import DRIVES, Maker
from tests.oracle.toml_text import to_toml

File = dict[str, Any]
TRIES = 40
HEIGHTS = ["-110", "-60", "-12.5", "0", "33", "80", "120"]


def pair(seed: int) -> tuple[File, File]:
    """A valid set-up and a valid mutant of it, as tables."""
    random = Random(f"pair {seed}")
    maker = Maker(Pick(random.randint))
    old = tables(maker.make())
    while True:
        maker.file = deepcopy(old)
        change = Changer(maker)
        for _ in range(random.choice([1, 1, 1, 2, 3])):
            change.one()
        new = tables(maker.file)
        if new != old and valid(new):
            return old, new


def tables(file: File) -> File:
    return {key: value for key, value in deepcopy(file).items() if value not in ({}, [])}


def valid(file: File) -> bool:
    try:
        World(to_toml(file))
    except (ValueError, KeyError):
        return False
    return not setuplint.load_text(to_toml(file)).problems


class Changer:
    """Changes one thing of a file at a time."""

    def __init__(self, maker: Maker) -> None:
        self.maker, self.pick = maker, maker.pick

    @property
    def file(self) -> File:
        return self.maker.file

    def one(self) -> None:
        kinds = [name for name in dir(self) if name.startswith("change_")]
        for _ in range(TRIES):
            before = deepcopy(self.file)
            getattr(self, self.pick.one(kinds))()
            if self.file != before:
                return

    # -- helpers

    def some(self, table: str) -> File:
        """One of the tables, or an empty one that belongs to none."""
        found = list(self.file.get(table, {}).values())
        return self.pick.one(found) if found else {}

    def put(self, table: File, key: str, values: list[Any]) -> None:
        if table:
            table[key] = self.pick.one([x for x in values if x != table.get(key)])

    def number(self, table: File, key: str, values: list[str]) -> None:
        self.put(table, key, [number(x) for x in values])

    def formula(self, table: File, key: str = "when") -> None:
        """Another formula, or one that is a little different."""
        if key not in table:
            return
        maker, pick, text = self.maker, self.pick, table[key]
        conditions = maker.conditions if table not in list(self.file.get("conditions", {}).values()) else []
        compared = list(re.finditer(r"([a-z][a-z0-9-]*) (<=|>=|<|>) (-?[0-9.]+)", text))
        kind = pick.one(["new", "not", "and", "or", "threshold", "threshold", "op", "joined"])
        if kind == "new":
            table[key] = maker.formula(conditions, modes=False, most=2)
        elif kind == "not":
            table[key] = f"not ({text})"
        elif kind in ("and", "or"):
            table[key] = f"({text}) {kind} {maker.formula(conditions, modes=False, most=1)}"
        elif kind == "joined":
            table[key] = text.replace(" and ", " or ", 1) if " and " in text else text.replace(" or ", " and ", 1)
        elif compared:
            name, op, at = (found := pick.one(compared)).groups()
            if kind == "op":
                op = pick.one(["<", "<=", ">", ">="])
            else:
                at = pick.one([*maker.cuts[name], "0", "1.5"])
            table[key] = f"{text[: found.start()]}{name} {op} {at}{text[found.end() :]}"

    def lines(self) -> list[File]:
        found = []
        for channel in self.file["channels"].values():
            found += [channel, *channel.get("in", {}).values()]
        return found

    def terms(self, analog: bool) -> list[File]:
        found = [t for line in self.lines() for t in (line, *line.get("mix", [])) if "from" in t]
        return [t for t in found if (t["from"] in [*self.maker.analogs, "throttle"]) == analog]

    # -- changes

    def change_priority(self) -> None:
        self.number(self.some("overrides"), "priority", ["0", "10", "50.5", "-3"])

    def change_override_value(self) -> None:
        self.number(self.some("overrides"), "value", ["-100", "-20", "41", "55"])

    def change_override_channel(self) -> None:
        self.put(self.some("overrides"), "channel", [*self.file["channels"], "motor"])

    def change_override_when(self) -> None:
        self.formula(self.some("overrides"))

    def change_condition_when(self) -> None:
        self.formula(self.some("conditions"))

    def change_condition_until(self) -> None:
        self.formula(self.some("conditions"), "until")

    def change_mode_when(self) -> None:
        self.formula(self.some("modes"))

    def change_alarm_when(self) -> None:
        self.formula(self.some("alarms"))

    def change_timer(self) -> None:
        self.formula(self.some("timers"), "runs")

    def change_start(self) -> None:
        self.formula(self.file.get("start", {}), "requires")

    def change_intent(self) -> None:
        self.formula(self.file.get("intent", {}), self.pick.one(["hold", "stop", "rescue"]))

    def change_mode_order(self) -> None:
        modes = self.file.get("modes", {})
        names = self.pick.some(list(modes), len(modes))
        self.file["modes"] = {name: modes[name] for name in names}

    def change_condition_kind(self) -> None:
        table = self.some("conditions")
        kind = self.pick.one(["toggles", "until", "plain", "after", "stays"])
        if not table:
            return
        for key in ("toggles", "until", "stays"):
            table.pop(key, None)
        if kind == "toggles":
            table["toggles"] = True
        elif kind == "until":
            table["until"] = self.maker.formula(most=1)
        elif kind in ("after", "stays"):
            table[kind] = number(self.pick.one(["0.5", "2"]))

    def change_parts(self) -> None:
        """An override or alarm more, or a part less."""
        table = self.pick.one(["overrides", "alarms", "timers", "curves", "conditions", "modes", "channels"])
        parts = self.file.get(table, {})
        if parts and self.pick.chance(60):
            parts.pop(self.pick.one(list(parts)))
        elif table == "overrides":
            name = self.pick.one(list(self.file["channels"]))
            when = self.maker.formula(self.maker.conditions, modes=True, most=2)
            value, priority = (number(self.pick.one(x)) for x in (["-100", "13"], ["0", "10", "99"]))
            added = {"channel": name, "value": value, "when": when, "priority": priority}
            self.file.setdefault(table, {})["added"] = added
        elif table == "alarms":
            when = self.maker.formula(self.maker.conditions, modes=True, most=2)
            self.file.setdefault(table, {})["added"] = {"when": when, "tone": True}

    def change_start_at_all(self) -> None:
        if "start" in self.file:
            del self.file["start"]
        else:
            self.file["start"] = {"requires": self.maker.resting()}

    def change_curve_point(self) -> None:
        points = self.some("curves").get("points")
        if points:
            self.pick.one(points)[1] = number(self.pick.one(HEIGHTS))

    def change_smoothing(self) -> None:
        self.put(self.some("curves"), "smoothing", ["none", "monotone", "cardinal", "natural", "unknown"])

    def change_rate(self) -> None:
        self.number(self.pick.one([*self.terms(analog=True), {}]), "rate", ["50", "75", "100", "110", "-100"])

    def change_expo(self) -> None:
        self.number(self.pick.one([*self.terms(analog=True), {}]), "expo", ["0", "10", "50", "-25"])

    def change_from_number(self) -> None:
        table = self.pick.one([*self.terms(analog=False), {}])
        if table and not isinstance(table["from"], str):
            self.number(table, "from", ["-40", "0", "36", "77"])

    def change_value_at(self) -> None:
        table = self.pick.one([*self.terms(analog=False), {}])
        if "values" in table:
            self.number(table["values"], self.pick.one(list(table["values"])), ["-100", "-12", "60"])

    def change_servo(self) -> None:
        channel = self.some("channels")
        kind = self.pick.one(["reversed", "travel", "sub-trim", "low", "high", "ramp-up", "drives"])
        if kind == "reversed":
            self.put(channel, kind, [True, False])
        elif kind == "travel":
            self.put(channel, kind, [[number("90"), number("100")], [number("100"), number("70")]])
        elif kind == "drives":
            self.put(channel, kind, [*DRIVES.values()])
        else:
            self.number(channel, kind, {"low": ["-100", "-60"], "high": ["100", "50"]}.get(kind, ["0", "2", "5.5"]))

    def change_line_in_a_mode(self) -> None:
        if self.maker.modes:
            channel = self.some("channels")
            channel.setdefault("in", {})[self.pick.one(self.maker.modes)] = self.maker.in_line(channel)
