"""Controls in a pilot's words: what the hand does, and how the others stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from setuplint.findings import Value
from setuplint.formats.numbers import Number, beside, decimal, exact, signed
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.setup.declarations import DEFAULT_POSITIONS, STICKS
from setuplint.setup.model import pupil_name
from setuplint.setup.names import UNITS

VERBS = {"pulled": "pull", "pressed": "press", "pushed": "push", "held": "hold"}


class ControlWords:
    """The controls from the file's own values, right or wrong: enough to put a movement into words. Voltages a cell are those of
    the battery, or of a pack."""

    def __init__(self, values: Mapping[str, object], pack: str = "") -> None:
        self._values = values
        packs = values.get("packs")
        packs = packs if isinstance(packs, Mapping) else {}
        first = next(iter(packs.values()), None)
        self._cells = _cell_count(packs.get(pack)) or _cell_count(values.get("battery", first))

    def _part(self, table: str, name: str) -> Mapping[str, object] | None:
        parts = self._values.get(table)
        part = parts.get(name) if isinstance(parts, Mapping) else None
        return part if isinstance(part, Mapping) else None

    def is_sensor(self, name: str) -> bool:
        return self._part("sensors", name) is not None

    def rest(self, name: str) -> Value | None:
        """Where a switch, stick or knob rests; None for a sensor."""
        switch = self._part("switches", name)
        if switch is None:
            return None if self.is_sensor(name) else self._stick_rest(_stick_name(name))
        positions = switch.get("positions")
        if isinstance(positions, list) and positions and isinstance(positions[0], str):
            return positions[0]
        return DEFAULT_POSITIONS.get(str(switch.get("kind")), ("up",))[0]

    def _stick_rest(self, stick: str) -> int:
        springs = (self._part("sticks", stick) or {}).get("rest") == "middle"
        return -100 if stick == "throttle" and not springs else 0

    def moved(self, name: str, value: Value) -> bool:
        """Whether a hand has moved it from rest."""
        return not self.is_sensor(name) and value != self.rest(name)

    def move(self, name: str, value: Value) -> str:
        """What the hand does: `put hold on`, `pull save`, `let go of save`, `move the throttle stick to the top`."""
        control = plain(name)
        if not isinstance(value, str):
            if _stick_name(name) in STICKS:
                return f"move {_stick(name)} to {_stick_place(name, value)}"
            return f"turn {control} to {_stick_place(name, value)}"
        word, switch = plain(value), self._part("switches", name) or {}
        if switch.get("kind") == "momentary":
            if value == self.rest(name):
                return f"let go of {control}"
            return f"{VERBS[word]} {control}" if word in VERBS else f"hold {control} at {word}"
        return f"put {control} {word}" if word in ("on", "off") else f"put {control} to {word}"

    def kept(self, name: str, value: Value) -> str:
        """How a control stands: `hold off`, `the throttle stick at the bottom`."""
        control = plain(name)
        if self.is_sensor(name):
            return f"{control} {self._reading(name, value)}"
        if isinstance(value, str):
            word, switch = plain(value), self._part("switches", name) or {}
            plainly = word in ("on", "off") or switch.get("kind") == "momentary"
            return f"{control} {word}" if plainly else f"{control} at {word}"
        moved = _stick(name) if _stick_name(name) in STICKS else control
        return f"{moved} at {_stick_place(name, value)}"

    def _reading(self, name: str, value: Value) -> str:
        if isinstance(value, str):
            return "not heard" if value == "unheard" else plain(value)
        kind = str((self._part("sensors", name) or {}).get("reads"))
        text = f"at {with_unit(kind, value)}"
        cells = _cell_count(self._part("sensors", name)) or self._cells
        if kind == "pack-voltage" and cells:
            text += f" ({decimal(exact(value) / cells, 3)}{FIXED_SPACE}V a cell)"
        return text


def _cell_count(table: object) -> int:
    """The `cells` of a table; 0 where it has none that can be."""
    cells = table.get("cells") if isinstance(table, Mapping) else None
    return cells if isinstance(cells, int) and not isinstance(cells, bool) and cells > 0 else 0


def and_joined(words: Sequence[str]) -> str:
    """`a, b and c`."""
    return f"{', '.join(words[:-1])} and {words[-1]}" if len(words) > 1 else "".join(words)


def with_unit(reads: str, value: Number) -> str:
    """A reading of a sensor of that kind: `21.6 V`."""
    return (
        f"{beside(value)}{decimal(value, 6)}{FIXED_SPACE}{UNITS[reads]}"
        if reads in UNITS and reads != "signal-strength"
        else f"{beside(value)}{decimal(value, 6)}"
    )


def _stick_name(name: str) -> str:
    """The stick that a pupil's is a second place of; else the name itself."""
    return name.removesuffix(pupil_name(""))


def _stick(name: str) -> str:
    own = plain(_stick_name(name))
    return f"the {own} stick" if own == name else f"the pupil's {own} stick"


def _stick_place(name: str, value: float) -> str:
    words = (
        {-100: "the bottom", 0: "the middle", 100: "the top"} if _stick_name(name) == "throttle" else {0: "the middle"}
    )
    return words.get(value) or f"{beside(value)}{signed(value, 6)}{FIXED_SPACE}%"  # type: ignore[call-overload]
