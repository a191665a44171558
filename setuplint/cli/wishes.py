"""What is known and asked for of a craft that has no setup yet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from setuplint.cli.trouble import Trouble
from setuplint.dataclass import dataclass, field

FOR_COLLECTIVE = ("hover_collective", "rescue_pitch", "lift", "idle_up")
FOR_RESCUE = ("level", "rescue_power", "lift", "rescue_pitch")


@dataclass(frozen=True, slots=True)
class Wishes:
    """What was asked for. Numbers are decimals as written, None where not given."""

    rotor: str | None = None
    name: str | None = None
    kind: str | None = None
    radio: str | None = None
    soft_start: str | None = None
    arms_when_stopped: str | None = None
    motor_off: str | None = None
    hover_throttle: str | None = None
    hover_collective: str | None = None
    governed_above: str | None = None
    throttle_trim: str | None = None
    chemistry: str | None = None
    cells: str | None = None
    capacity_mah: str | None = None
    hover_current_a: str | None = None
    resistance_mohm: str | None = None
    pack_sensor: bool = False
    link_sensor: bool = False
    hold_switch: str = "hold"
    rescue_switch: str = "save"
    flight_switch: str = "flight"
    idle_up: str | None = None
    soften: str | None = None
    level: str | None = None
    rescue_power: str | None = None
    lift: str | None = None
    rescue_pitch: str | None = None
    hold_place: str | None = None
    rescue_place: str | None = None
    flight_place: str | None = None
    land_below: str | None = None  # volts of the pack: earlier than by LAND_AT
    without_rescue: bool = False
    failsafe: str | None = None
    start_check: str | None = None
    numbers: Mapping[str, int] = field(default_factory=dict)

    @property
    def collective(self) -> bool:
        return self.rotor == "collective"


def wishes(known: Mapping[str, Any]) -> Wishes:
    """Of what options say. Trouble, with the first reason, where they do not go together."""
    places = known.get("number", [])
    numbers = dict(places)
    if len(set(numbers.values())) < len(places):
        raise Trouble("--number gives two channels one place, or one channel two")
    found = Wishes(**{option: value for option, value in known.items() if option != "number"}, numbers=numbers)
    for contradiction in contradictions(found):
        raise Trouble(contradiction)
    return found


def contradictions(w: Wishes) -> Iterator[str]:
    """What in them does not go together."""
    unfit = [(option, "is for a collective rotor") for option in FOR_COLLECTIVE if w.rotor == "fixed"]
    unfit += [(option, "is for a rescue: leave out --without-rescue") for option in FOR_RESCUE if w.without_rescue]
    for option, why in unfit:
        if getattr(w, option) is not None:
            yield f"--{option.replace('_', '-')} {why}"
    if w.soften is not None:
        if w.hover_throttle is None and w.hover_collective is None:
            yield "--soften needs --hover-throttle, or --hover-collective: it is the slope there"
        if w.throttle_trim is not None and float(w.throttle_trim) >= 50 and w.hover_throttle is not None:
            yield "--soften leaves a throttle trim less than 50 of the stick"
    if w.lift and w.rescue_pitch is not None:
        yield "--lift unit and --rescue-pitch exclude each other: one of the two moves the collective"
    if w.pack_sensor and not (w.cells and w.chemistry):
        yield "--pack-sensor needs --cells and --chemistry: its alarm is worked out from them"
    if w.motor_off is not None and w.hover_throttle is not None and float(w.hover_throttle) <= float(w.motor_off):
        yield f"--hover-throttle {w.hover_throttle} is not above --motor-off {w.motor_off}: it would be stopped"
    used = [w.hold_switch, *([] if w.without_rescue else [w.rescue_switch])]
    used += [] if w.idle_up is None else [w.flight_switch]
    if len(set(used)) < len(used):
        yield f"hold, rescue and flight each need a switch of their own, not {', '.join(used)}"
