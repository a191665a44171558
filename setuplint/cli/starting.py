"""The text of a safe starting setup.

Every number in it was given by the pilot, follows from one that was, or is a plain setting; nothing that has to be
measured is made up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from setuplint.formats import toml
from setuplint.library import soften

# Volts a cell under load at which to land: above the floors of the rule voltage-alarm-below-floor, within the range in
# which pilots set it (common practice).
LAND_AT = {"lipo": Fraction("3.5"), "lihv": Fraction("3.5"), "li-ion": Fraction("3.2"), "life": Fraction("2.9")}
OVER_HOVER = 15  # points: "clearly above hover power, short of full" (common practice); the rule asks for 10
STEEPEST = Fraction(29, 10)
FULL = (Fraction(-100), Fraction(100))
SOFT = Fraction(3, 5)  # slope around the hover, against 1 of a straight line from end to end


@dataclass(frozen=True, slots=True)
class Wishes:
    """What was asked for. Numbers are decimals as written, None where not given."""

    rotor: str
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


def setup_text(wishes: Wishes) -> str:
    """The whole file."""
    parts = (_craft, _battery, _controls, _sensors, _modes, _curves, _channels, _overrides, _alarms, _last)
    return "\n".join(line for part in parts for line in part(wishes)) + "\n"


def _keys(wishes: Wishes, *names: str) -> Iterator[str]:
    for name in names:
        value = getattr(wishes, name.replace("-", "_"))
        if value is not None:
            yield f"{name} = {value}"


def _craft(w: Wishes) -> Iterator[str]:
    yield "# A starting setup. Check it at the transmitter, on the bench: motor disconnected or blades off."
    yield "# What is not known yet is left out: setuplint lists what it could not judge for that."
    yield "format = 1"
    yield ""
    yield "[craft]"
    for key in ("name", "kind", "rotor", "radio"):
        value = getattr(w, key)
        if value is not None:
            yield f"{key} = {toml.toml_value(value)}"
    yield from _keys(w, "motor-off", "hover-throttle", "hover-collective", "governed-above")
    for flag in ("soft-start", "arms-when-stopped"):
        answer = getattr(w, flag.replace("-", "_"))
        if answer is not None:
            yield f"{flag} = {'true' if answer == 'yes' else 'false'}"


def _battery(w: Wishes) -> Iterator[str]:
    lines = [f"chemistry = {toml.toml_value(w.chemistry)}"] if w.chemistry else []
    lines += _keys(w, "cells", "capacity-mah", "hover-current-a", "resistance-mohm")
    if lines:
        yield from ("", "[battery]", *lines)


def _controls(w: Wishes) -> Iterator[str]:
    if w.throttle_trim is not None:
        yield from ("", "[sticks.throttle]", f"trim = {w.throttle_trim}")
    yield from (
        "",
        f"[switches.{w.hold_switch}]",
        'kind = "two-position"            # stays where it is put, and does nothing else',
        'positions = ["off", "on"]',
    )
    yield from _place(w.hold_place)
    if not w.without_rescue:
        yield from (
            "",
            f"[switches.{w.rescue_switch}]",
            'kind = "momentary"               # springs back: letting go ends the rescue',
            'positions = ["released", "pulled"]',
        )
        yield from _place(w.rescue_place)
    if w.idle_up is not None:
        yield from ("", f"[switches.{w.flight_switch}]", 'kind = "two-position"', 'positions = ["normal", "idle-up"]')
        yield from _place(w.flight_place)


def _place(place: str | None) -> Iterator[str]:
    if place is not None:
        yield f"place = {toml.toml_value(place)}"


def _sensors(w: Wishes) -> Iterator[str]:
    if w.pack_sensor:
        yield from ("", "[sensors.pack]", 'reads = "pack-voltage"', "shown = true")
    if w.link_sensor:
        yield from ("", "[sensors.link]", 'reads = "link-quality"')


def _modes(w: Wishes) -> Iterator[str]:
    if w.idle_up is not None:
        yield from ("", "[modes.normal]", f'when = "{w.flight_switch} is normal"', 'voice = "normal"')
        yield from (
            "",
            "[modes.idle-up]",
            "idle-up = true                   # the motor stays on at low stick, on purpose",
        )
        yield 'voice = "idle up"'


def _curves(w: Wishes) -> Iterator[str]:
    yield from ("", "[curves.throttle-normal]        # starts at a stop; soft around the hover where that is known")
    yield f"points = {toml.toml_value(_throttle(w))}"
    if w.collective:
        yield from (
            "",
            "[curves.pitch-normal]           # little negative pitch: nothing drives the craft into the ground",
        )
        yield f"points = {toml.toml_value(_pitch(w))}"
    if w.idle_up is not None:
        yield from ("", "[curves.throttle-idle-up]", f"points = [[-100, {w.idle_up}], [100, {w.idle_up}]]")
        if w.collective:
            points = _pitch(w)
            middle = points[len(points) // 2][1] if len(points) > 2 else Fraction(0)
            full = [[Fraction(-100), max(middle - 100, Fraction(-100))], [Fraction(0), middle]]
            full.append([Fraction(100), min(middle + 100, Fraction(100))])
            yield from ("", "[curves.pitch-idle-up]          # through the same hover: no jump from mode to mode")
            yield f"points = {toml.toml_value(full)}"


def _throttle(w: Wishes) -> list[list[Fraction]]:
    """At a stop as far up as the trim can move the stick, then through the hover at mid-stick."""
    flat = Fraction(w.throttle_trim or 0) - 100
    points = [[Fraction(-100), Fraction(-100)]]
    if flat > -100:
        points.append([flat, Fraction(-100)])
    if w.soften is not None and w.hover_throttle is not None:
        return [*points, *_softened(w.hover_throttle, w.soften)[1:]]
    if w.hover_throttle is not None:
        hover = Fraction(w.hover_throttle)
        for width in (50, 25):  # as wide as leaves the way up to it no steeper than it must be
            low, high = hover - width * SOFT, hover + width * SOFT
            if flat < -width and low > -100 and high < 100 and (low + 100) / (-width - flat) <= STEEPEST:
                points += [[Fraction(-width), low], [Fraction(0), hover], [Fraction(width), high]]
                break
    return [*points, [Fraction(100), Fraction(100)]] if flat < 100 else points


def _pitch(w: Wishes) -> list[list[Fraction]]:
    low, high = Fraction(-20), Fraction(80)
    if w.soften is not None and w.hover_collective is not None:
        return _softened(w.hover_collective, w.soften, (low, high))
    middle = Fraction(30) if w.hover_collective is None else Fraction(w.hover_collective)
    if low < middle < high:
        return [[Fraction(-100), low], [Fraction(0), middle], [Fraction(100), high]]
    return [[Fraction(-100), Fraction(-100)], [Fraction(100), Fraction(100)]]


def _softened(hover: str, slope: str, ends: tuple[Fraction, Fraction] = FULL) -> list[list[Fraction]]:
    """ValueError where there is no curve with this slope at its hover."""
    return [list(point) for point in soften(hover, slope, ends)]


def _channels(w: Wishes) -> Iterator[str]:
    yield from _channel(w, "motor", "motor", "throttle", "throttle-normal", "throttle-idle-up")
    if w.collective:
        yield from _channel(w, "pitch", "collective", "throttle", "pitch-normal", "pitch-idle-up")
    for name, drives in (("roll", "aileron"), ("nose", "elevator"), ("tail", "rudder")):
        yield from _channel(w, name, drives, drives)
    if w.level is not None:
        yield from _channel(w, "attitude", "stabiliser", w.level)


def _channel(w: Wishes, name: str, drives: str, source: str, curve: str = "", idle_up: str = "") -> Iterator[str]:
    yield from ("", f"[channels.{name}]")
    if name in w.numbers:
        yield f"number = {w.numbers[name]}"
    yield f'drives = "{drives}"'
    yield f"from = {source if name == 'attitude' else toml.toml_value(source)}"
    if curve:
        yield f'curve = "{curve}"'
    if idle_up and w.idle_up is not None:
        ramp = ", ramp-up = 2" if name == "motor" else ""
        yield f'in.idle-up = {{ curve = "{idle_up}"{ramp} }}'


def _overrides(w: Wishes) -> Iterator[str]:
    yield from (
        "",
        "[overrides.held]",
        'channel = "motor"',
        "value = -100                     # 0 where the transmitter shows 0 to 100",
    )
    yield f'when = "{w.hold_switch} is on"'
    yield "priority = 100                   # above everything else, rescue included"
    if w.without_rescue:
        return
    power, why = _power(w)
    rescue = f'when = "{w.rescue_switch} is pulled"'
    if power is not None:
        yield from (
            "",
            "[overrides.rescue-power]",
            'channel = "motor"',
            f"value = {power}{why}",
            rescue,
            "priority = 50",
        )
    if w.rescue_pitch is not None:
        yield from (
            "",
            "[overrides.rescue-pitch]",
            'channel = "pitch"',
            f"value = {w.rescue_pitch}",
            rescue,
            "priority = 50",
        )
    if w.level is not None:
        yield from (
            "",
            "[overrides.rescue-level]",
            'channel = "attitude"',
            f"value = {w.level}",
            rescue,
            "priority = 50",
        )


def _power(w: Wishes) -> tuple[str | None, str]:
    """The motor in a rescue: as given, or from what was measured; None where nothing was."""
    if w.rescue_power is not None:
        return w.rescue_power, ""
    flown = [Fraction(x) for x in (w.idle_up, w.hover_throttle) if x is not None]
    if w.governed_above is not None:
        power, why = Fraction(w.governed_above), "   # where the governor takes over"
    elif w.hover_throttle is not None:
        power = min(Fraction(w.hover_throttle) + OVER_HOVER, Fraction(100))
        why = f"   # {OVER_HOVER} points above the hover"
    else:
        return None, ""
    if power < max(flown, default=power):
        return toml.toml_value(max(flown)), "   # no less than what is flown with"
    return toml.toml_value(power), why


def _alarms(w: Wishes) -> Iterator[str]:
    if w.pack_sensor and w.cells and w.chemistry:
        cell = LAND_AT[w.chemistry] if w.land_below is None else Fraction(w.land_below) / int(w.cells)
        volts = toml.toml_value(cell * int(w.cells))
        why = "" if w.land_below is None else ", for the time that it takes to come back and down"
        yield from ("", "[conditions.pack-low]")
        yield f'when = "pack < {volts}"'.ljust(32) + f" # {toml.toml_value(cell)} V a cell{why}"
        yield "after = 1.5                      # s: a short dip is not yet an empty pack"
        yield from ("", "[alarms.land-now]", 'when = "pack-low"', 'voice = "land now"', "repeat = 5")
        yield from ("", "[alarms.pack-gone]", 'when = "pack is lost"', "tone = true", "repeat = 8")
    if w.link_sensor:
        yield from ("", "[alarms.link-weak]", 'when = "link < 60 or link is lost"', "tone = true", "repeat = 2")
    if w.capacity_mah and w.hover_current_a:
        hours = Fraction(4, 5) * Fraction(w.capacity_mah) / 1000 / Fraction(w.hover_current_a)
        seconds = min(86400, int(hours * 3600) // 10 * 10)
        if seconds > 0:
            yield from (
                "",
                "[timers.flight]",
                f"seconds = {seconds}".ljust(32) + " # 80 % of the pack at hover current",
            )
            yield from (f'runs = "not {w.hold_switch} is on"', 'voice = "time to land"')


def _last(w: Wishes) -> Iterator[str]:
    yield from (
        "",
        "[failsafe]                       # what the receiver puts out with the link gone: try it, blades off",
    )
    unit = w.failsafe == "unit"
    yield "motor = -100" if not unit else 'motor = "unit"'
    if w.collective:
        yield "pitch = 0" if not unit else 'pitch = "unit"'
    yield from ("roll = 0", "nose = 0", "tail = 0")
    if w.level is not None:
        yield f"attitude = {w.level}"
    normal = f" and {w.flight_switch} is normal" if w.idle_up is not None else ""
    if w.start_check != "no":
        yield from ("", "[start]", f'requires = "{w.hold_switch} is on{normal} and throttle < -95"')
    yield from ("", "[intent]", f'hold = "{w.hold_switch} is on"')
    if w.without_rescue:
        return
    yield f'rescue = "{w.rescue_switch} is pulled"'
    if w.level is not None:
        yield f'level = {{ channel = "attitude", value = {w.level} }}'
    if w.lift is not None:
        yield 'lift = "unit"'
    elif w.rescue_pitch is not None:
        yield f'lift = {{ channel = "pitch", at-least = {w.rescue_pitch} }}'
