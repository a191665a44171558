"""Random setups of the whole format, always valid and small enough for brute force, and random claims about them.

`random_setup(seed)` and `random_formula(seed, text)` need no hypothesis; `setups()` and `formulas(text)` are the same
generators under hypothesis, which can then shrink what they made.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import Any

from hypothesis import strategies as st

from .claims import claim
from .parts import POSITIONS
from .pick import Pick, combine, number, times
from .toml_text import to_toml

STICK_CUTS = ["-95", "-60", "-20.5", "0", "12.5", "50", "95"]
CELL_VOLTS = ["3.0", "3.25", "3.3", "3.5", "3.6"]
KINDS = ["plain", "after", "stays", "both", "until", "toggles", "until-after", "toggles-after"]
DRIVES = {
    "motor": "motor",
    "pitch": "collective",
    "roll": "aileron",
    "tail": "rudder",
    "attitude": "stabiliser",
    "gain": "gyro-gain",
    "extra": "other",
}
WORDS = [["low", "mid", "high"], ["soft", "full"], ["alpha", "beta", "gamma", "delta"], ["normal", "sport", "stunt"]]


class Maker:
    """Builds one setup as a dictionary of the file's tables."""

    def __init__(self, pick: Pick) -> None:
        self.pick = pick
        self.file: dict[str, Any] = {"format": 1}
        self.switches: dict[str, list[str]] = {}
        self.analogs: list[str] = []
        self.cuts: dict[str, list[str]] = {}
        self.conditions: list[str] = []
        self.modes: list[str] = []

    def make(self) -> dict[str, Any]:
        self.make_switches()
        self.make_analogs()
        self.make_sensors()
        self.make_conditions_and_modes()
        self.make_curves()
        self.make_channels()
        self.make_overrides()
        self.make_rest()
        return {key: value for key, value in self.file.items() if value != {} and value != []}

    # Controls

    def make_switches(self) -> None:
        pick = self.pick
        for name in pick.some(["flight", "hold", "save", "rates", "gear", "cut"], pick.integer(2, 4)):
            kind = pick.one(["momentary", "two-position", "two-position", "three-position", "selector"])
            table: dict[str, Any] = {"kind": kind}
            if kind == "selector":
                table["positions"] = [*pick.one(WORDS)]
            elif (kind == "three-position" and pick.chance(40)) or (kind == "momentary" and pick.chance(25)):
                table["positions"] = [*pick.one([w for w in WORDS if len(w) == 3])]
            elif pick.chance(20) and kind != "three-position":
                table["positions"] = ["no", "yes"]
            self.switches[name] = list(table.get("positions") or POSITIONS[kind])
            self.file.setdefault("switches", {})[name] = table

    def make_analogs(self) -> None:
        pick = self.pick
        sticks = pick.some(["throttle", "throttle", "aileron", "elevator", "rudder"], pick.integer(0, 2))
        self.analogs = list(dict.fromkeys(sticks))
        if pick.chance(35):
            self.analogs.append("dial")
            self.file["knobs"] = {"dial": {}}
        self.file["sticks"] = {name: {"trim": 5} for name in self.analogs if name != "dial" and pick.chance(20)}
        if "throttle" in self.analogs and pick.chance(20):
            self.file["sticks"].setdefault("throttle", {})["rest"] = "middle"
        for name in self.analogs:
            self.cuts[name] = pick.some(STICK_CUTS, pick.integer(1, 2))

    def make_sensors(self) -> None:
        pick = self.pick
        chosen = pick.some(["pack", "cell", "link", "pack", "supply", "weakest"], pick.integer(0, 3))
        reads = {"pack": "pack-voltage", "cell": "cell-voltage", "link": "link-quality"}
        reads |= {"supply": "receiver-voltage", "weakest": "cell-voltage"}
        cells = pick.integer(1, 6) if pick.chance(75) else None
        battery: dict[str, Any] = {"chemistry": "lipo"}
        if cells:
            battery["cells"] = cells
        self.file["battery"] = battery if cells or pick.chance(30) else {}
        volts = pick.some(CELL_VOLTS, 2)
        for name in dict.fromkeys(chosen):
            self.file.setdefault("sensors", {})[name] = {"reads": reads[name]}
            count = cells
            if name == "pack" and pick.chance(25):
                count = pick.integer(1, cells or 4)
                self.file["sensors"][name]["cells"] = count
            if name == "link":
                self.cuts[name] = pick.some(["0", "40", "60.5", "99"], 2)
            elif name == "supply":
                self.cuts[name] = ["4.8"]
            elif name != "pack" or count is None:
                self.cuts[name] = volts[: pick.integer(1, 2)]
            else:
                self.cuts[name] = [times(v, count) for v in volts[: pick.integer(1, 2)]]

    # Formulas

    def leaf(self, conditions: Sequence[str], modes: bool) -> str:
        pick = self.pick
        kinds = ["switch"] * 5
        kinds += ["analog"] * 2 if self.analogs else []
        sensors = list(self.file.get("sensors", {}))
        kinds += ["sensor"] * 2 if sensors else []
        kinds += ["condition"] * 4 if conditions else []
        kinds += ["mode"] * 2 if modes and self.modes else []
        kind = pick.one(kinds)
        if kind == "switch":
            name = pick.one(list(self.switches))
            return f"{name} is {'not ' * pick.chance(20)}{pick.one(self.switches[name])}"
        if kind == "condition":
            return pick.one(conditions)
        if kind == "mode":
            return f"mode is {'not ' * pick.chance(20)}{pick.one(self.modes)}"
        name = pick.one(self.analogs if kind == "analog" else sensors)
        if kind == "sensor" and pick.chance(25):
            return f"{name} is {'not ' * pick.chance(30)}lost"
        return f"{name} {pick.one(['<', '<=', '>', '>='])} {pick.one(self.cuts[name])}"

    def formula(self, conditions: Sequence[str] = (), modes: bool = False, most: int = 3) -> str:
        return combine(self.pick, lambda: self.leaf(conditions, modes), most)

    def make_conditions_and_modes(self) -> None:
        pick = self.pick
        count = pick.one([0, 1, 2, 2, 3, 3, 4, 5])
        modes = pick.some(["normal", "sport", "stunt", "glide"], pick.integer(0, 4))
        # Conditions made before the modes may stand in a mode's `when`; those made after may name a mode.
        before = pick.integer(0, count)
        tables: dict[str, Any] = {}
        for k, name in enumerate(pick.some(["low", "armed", "saved", "ready", "calm"], count)):
            if k == before:
                self.make_modes(modes)
            tables[name] = self.condition()
            self.conditions.append(name)
        if count == before:
            self.make_modes(modes)
        self.file["conditions"] = {name: tables[name] for name in pick.some(list(tables), count)}

    def condition(self) -> dict[str, Any]:
        pick = self.pick
        kind = pick.one([*KINDS, "until", "until", "toggles"])
        table: dict[str, Any] = {"when": self.formula(self.conditions, modes=bool(self.modes), most=2)}
        if kind.endswith("after") or kind == "both":
            table["after"] = number(pick.one(["0.3", "1", "1.5", "0"]))
        if kind in ("stays", "both"):
            table["stays"] = number(pick.one(["0.4", "2", "0"]))
        if kind.startswith("until"):
            table["until"] = self.formula(self.conditions, modes=bool(self.modes), most=2)
        if kind.startswith("toggles"):
            table["toggles"] = True
        return table

    def make_modes(self, names: Sequence[str]) -> None:
        pick = self.pick
        made: dict[str, Any] = {}
        for k, name in enumerate(names):
            table: dict[str, Any] = {}
            if k < len(names) - 1 or pick.chance(40):
                table["when"] = self.formula(self.conditions, most=2)
            if pick.chance(30):
                table["idle-up"] = pick.chance(70)
            if pick.chance(20):
                table["aerobatic"] = True
            if pick.chance(50):
                table["voice"] = name
            made[name] = table
        self.file["modes"] = made
        self.modes = list(names)

    # Channels

    def make_curves(self) -> None:
        pick = self.pick
        for name in pick.some(["soft", "flat", "wide"], pick.integer(0, 3)):
            ends = pick.one([["-100", "100"], ["-100", "100"], ["-80", "100"], ["-100", "62.5"]])
            inner = sorted(pick.some([-60, -25, 0, 30, 75] if ends[0] == "-100" else [-30, 0, 50], pick.integer(0, 3)))
            inner = [x for x in inner if x < float(ends[1])]
            heights = ["-120", "-100", "-90", "-40", "-5.5", "0", "24", "55", "100", "130"]
            xs = [ends[0], *map(str, inner), ends[1]]
            table: dict[str, Any] = {"points": [[number(x), number(pick.one(heights))] for x in xs]}
            smoothing = pick.one(["", "none", "monotone", "cardinal", "natural", "unknown"])
            if smoothing:
                table["smoothing"] = smoothing
            self.file.setdefault("curves", {})[name] = table

    def amount(self, values: Sequence[str]) -> Any:
        """A number, or one by switch."""
        pick = self.pick
        if pick.chance(70):
            return number(pick.one(values))
        switch = pick.one(list(self.switches))
        return {"switch": switch, "at": {word: number(pick.one(values)) for word in self.switches[switch]}}

    def term(self, used: list[str], wanted: str = "") -> dict[str, Any]:
        """A term that reads no stick of `used`; the stick it reads is added there."""
        pick = self.pick
        free = [name for name in (self.analogs or ["throttle"]) if name not in used]
        kinds = (["analog"] * 4 if free else []) + ["number", "switch"]
        kind = wanted if wanted in kinds else pick.one(kinds)
        if kind == "number":
            return {"from": number(pick.one(["-100", "-30", "0", "36", "42.25"]))}
        if kind == "switch":
            name = pick.one(list(self.switches))
            values = ["-100", "-50", "0", "7.5", "45", "100"]
            return {"from": name, "values": {word: number(pick.one(values)) for word in self.switches[name]}}
        name = pick.one(free)
        used.append(name)
        table: dict[str, Any] = {"from": name}
        if pick.chance(35):
            table["rate"] = self.amount(["60", "80", "120", "-100", "33.3", "0"])
        if pick.chance(30):
            table["expo"] = self.amount(["20", "35", "-20", "100", "-50"])
        if pick.chance(50) and self.file.get("curves"):
            table["curve"] = pick.one([*self.file["curves"], *self.file["curves"], "straight"])
        return table

    def line(self) -> tuple[dict[str, Any], list[str]]:
        pick = self.pick
        used: list[str] = []
        table = self.term(used, wanted="analog" if pick.chance(60) else "")
        if pick.chance(30):
            table["mix"] = [self.term(used) for _ in range(pick.one([1, 1, 2]))]
        return table, used

    def make_channels(self) -> None:
        pick = self.pick
        names = (["motor"] if pick.chance(90) else []) + pick.some([*DRIVES][1:], pick.integer(1, 3))
        for k, name in enumerate(names):
            table: dict[str, Any] = {} if pick.chance(15) else {"number": k + 1}
            if name != "extra" or pick.chance(30):
                table["drives"] = "motor" if name == "extra" else DRIVES[name]
            if pick.chance(92):
                table |= self.line()[0]
            if pick.chance(20):
                table["ramp-up"] = number(pick.one(["0", "0.5", "2"]))
            if pick.chance(20):
                table["ramp-down"] = number(pick.one(["0.4", "1"]))
            self.finish_channel(table)
            self.file.setdefault("channels", {})[name] = table

    def finish_channel(self, table: dict[str, Any]) -> None:
        pick = self.pick
        for mode in self.modes:
            if pick.chance(25 if "from" in table else 8):
                table.setdefault("in", {})[mode] = self.in_line(table)
        if pick.chance(20):
            table["reversed"] = True
        if pick.chance(20):
            table["travel"] = [number(pick.one(["100", "80", "125", "0"])), number(pick.one(["100", "90", "110.5"]))]
        if pick.chance(15):
            table["sub-trim"] = number(pick.one(["3", "-7.25"]))
        if pick.chance(15):
            table["low"] = number(pick.one(["-100", "-95"]))
        if pick.chance(15):
            table["high"] = number(pick.one(["100", "62"]))

    def in_line(self, table: dict[str, Any]) -> dict[str, Any]:
        """What differs in one mode: a whole new line, or one key of the line (a stick in one term at most)."""
        pick = self.pick
        kind = pick.one(["line", "line", "from", "curve", "mix", "ramp"])
        if "from" not in table and kind not in ("line", "ramp"):
            kind = "line"
        if kind == "curve" and self.file.get("curves") and table.get("from") in self.analogs:
            return {"curve": pick.one([*self.file["curves"], "straight"])}
        if kind == "ramp":
            return {"ramp-up": number(pick.one(["0", "1", "3"]))}
        main = [table["from"]] if table.get("from") in [*self.analogs, "throttle"] else []
        if kind == "mix":
            return {"mix": [self.term(main)] if pick.chance(70) else []}
        if kind == "from":
            mixed = [t["from"] for t in table.get("mix", []) if isinstance(t["from"], str)]
            return self.term(mixed)
        new = self.line()[0]
        new.setdefault("mix", [])
        return new

    def make_overrides(self) -> None:
        pick = self.pick
        names = ["held", "saved", "level", "capped", "spare", "last"]
        for name in pick.some(names, pick.one([0, 1, 2, 2, 3, 4, 5, 6])):
            table: dict[str, Any] = {"channel": pick.one(list(self.file["channels"]))}
            values = ["-100", "-100", "-95", "-20", "0", "40", "55", "100"]
            kind = pick.one(["value", "value", "value", "at-least", "at-most", "both"])
            if kind == "both":
                table["at-least"], table["at-most"] = number(pick.one(values[:4])), number(pick.one(values[4:]))
            else:
                table[kind] = number(pick.one(values))
            table["when"] = self.formula(self.conditions, modes=True, most=2)
            priority = pick.one(["", "", "10", "10", "50.5"])
            if priority:
                table["priority"] = number(priority)
            self.file.setdefault("overrides", {})[name] = table

    # The rest

    def bound(self) -> dict[str, Any]:
        pick = self.pick
        table: dict[str, Any] = {"channel": pick.one(list(self.file["channels"]))}
        kind = pick.one(["least", "most", "both", "value"])
        if kind == "value":
            return table | {"value": number(pick.one(["-100", "0", "54.5"]))}
        if kind in ("least", "both"):
            table["at-least"] = number(pick.one(["-50", "10", "40"]))
        if kind in ("most", "both"):
            table["at-most"] = number(pick.one(["50", "70", "100"] if kind == "both" else ["-50", "20"]))
        return table

    def make_rest(self) -> None:
        pick = self.pick
        craft: dict[str, Any] = {"name": "Made Up"}
        if pick.chance(85):
            craft["motor-off"] = number(pick.one(["-95", "-100", "-90.5"]))
            if pick.chance(50):
                craft["rotor-free"] = number(pick.one(["-70", "-40"]))
        if pick.chance(30):
            craft["kind"] = "multirotor"
        craft |= pick.one([{}, {}, {"soft-start": True}, {"arms-when-stopped": True}, {"hover-throttle": 16}])
        self.file["craft"] = craft
        if pick.chance(75):
            names_all = pick.chance(30)
            if pick.chance(8):
                self.file["start"] = {"requires": self.impossible()}
            elif pick.chance(50):
                self.file["start"] = {"requires": self.resting()}
            else:
                requires = self.formula(self.conditions if names_all else (), modes=names_all, most=3)
                self.file["start"] = {"requires": requires}
            if pick.chance(15):
                self.file["start"]["enforced"] = pick.chance(30)
        intent: dict[str, Any] = {}
        for key, percent in (("hold", 80), ("stop", 30), ("rescue", 60)):
            if pick.chance(percent):
                intent[key] = self.formula(self.conditions, modes=pick.chance(20), most=2)
        if pick.chance(50):
            intent["level"] = self.bound()
        if pick.chance(50):
            intent["lift"] = "unit" if pick.chance(30) else self.bound()
        self.file["intent"] = intent
        self.make_trainer()
        self.make_extras()

    def make_trainer(self) -> None:
        pick = self.pick
        sticks = [name for name in self.analogs if name != "dial"]
        if sticks and pick.chance(25):
            lent = self.formula(self.conditions, modes=pick.chance(20), most=2)
            self.file["trainer"] = {"lent": lent, "sticks": pick.some(sticks, pick.integer(1, len(sticks)))}

    def resting(self) -> str:
        """What a careful pilot asks for: some switches put to one position, and now and then a stick low."""
        pick = self.pick
        names = pick.some(list(self.switches), pick.integer(1, 3))
        parts = [f"{name} is {pick.one(self.switches[name])}" for name in names]
        if self.analogs and pick.chance(30):
            parts.append(f"{self.analogs[0]} < {self.cuts[self.analogs[0]][0]}")
        return " and ".join(parts)

    def impossible(self) -> str:
        sensors = list(self.file.get("sensors", {}))
        if sensors and self.pick.chance(60):
            return f"{sensors[0]} >= {self.cuts[sensors[0]][0]}"  # nothing is heard at power-up
        name = self.pick.one(list(self.switches))
        words = self.switches[name]
        return f"{name} is {words[0]} and {name} is {words[1]}"

    def make_extras(self) -> None:
        """Tables that change no settled answer."""
        pick = self.pick
        for name in pick.some(["warn", "land"], pick.integer(0, 2)):
            table: dict[str, Any] = {"when": self.formula(self.conditions, modes=True, most=2)}
            table |= pick.one([{"tone": True}, {"voice": "land now", "repeat": 5}, {"vibrate": True, "repeat": 2}])
            self.file.setdefault("alarms", {})[name] = table
        if pick.chance(40):
            values: list[Any] = [-100, 0, "keep", "unit", "none"]
            self.file["failsafe"] = {name: pick.one(values) for name in self.file["channels"] if pick.chance(70)}
        if pick.chance(30):
            self.file["timers"] = {"flight": {"seconds": 270, "runs": self.formula(), "tone": True}}
        if pick.chance(15):
            self.file["field"] = {"elevation-m": 240}
        if pick.chance(20):
            self.file["claims"] = [{"never": "hold called and motor runs", "because": "the blades stand still"}]
        if pick.chance(20):
            self.file["swash"] = {"servos": "three-120", "collective": 60, "cyclic": 55}


def build(pick: Pick) -> str:
    return to_toml(Maker(pick).make())


def random_setup(seed: int) -> str:
    """The TOML text of one setup, the same for the same seed."""
    return build(Pick(Random(f"setup {seed}").randint))


def random_formula(seed: int, text: str) -> str:
    """A claim's formula about a setup, the same for the same seed and text."""
    return claim(Pick(Random(f"claim {seed}").randint), text)


@st.composite
def setups(draw: st.DrawFn) -> str:
    """Setups as TOML text."""
    return build(Pick(lambda low, high: draw(st.integers(low, high))))


@st.composite
def formulas(draw: st.DrawFn, text: str) -> str:
    """Claims about the setup `text`."""
    return claim(Pick(lambda low, high: draw(st.integers(low, high))), text)
