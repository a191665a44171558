"""The text of a safe starting setup.

Every number in it was given by the pilot, follows from one that was, or is a plain setting; nothing that has to be
measured is made up.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.cli.wishes import Wishes
from setuplint.formats import toml
from setuplint.library import soften

# Volts a cell under load at which to land: the careful values of the rule voltage-alarm-below-floor (common practice).
LAND_AT = {"lipo": Fraction("3.6"), "lihv": Fraction("3.6"), "li-ion": Fraction("3.2"), "life": Fraction("3.0")}
STEERING = {
    "roll": (
        "aileron",
        "it follows the stick in this sense, in every rate and mode: a sign that slips rolls the craft over",
    ),
    "nose": ("elevator", "it follows the stick in this sense, in every rate and mode: a sign that slips is a dive"),
    "tail": ("rudder", "it follows the stick in this sense, in every rate and mode: a sign that slips is a spin"),
}
OVER_HOVER = 15  # points: "clearly above hover power, short of full" (common practice); the rule asks for 10
STEEPEST = Fraction(29, 10)
FULL = (Fraction(-100), Fraction(100))
SOFT = Fraction(3, 5)  # slope around the hover, against 1 of a straight line from end to end
HEAD = """\
# A starting setup. Check it at the transmitter, on the bench: motor disconnected or blades off.
# What is not known yet is left out: setuplint lists what it could not judge for that.
format = 1
"""


def setup_text(w: Wishes) -> str:
    """The whole file."""
    tables = (
        *(_craft(w), _battery(w), _controls(w), _sensors(w), _modes(w), _curves(w), _channels(w), _overrides(w)),
        *(_alarms(w), _timer(w), _failsafe(w), _start(w), _intent(w), _claims()),
    )
    return HEAD + "\n".join(line for table in tables for line in table) + "\n"


def _table(heading: str, *lines: str) -> list[str]:
    """A table; a line that is empty is left out."""
    return ["", f"[{heading}]", *filter(None, lines)]


def _key(name: str, value: object) -> str:
    """A line of a table; empty where the value is not known."""
    return "" if value is None else f"{name} = {value if isinstance(value, int) else toml.toml_value(value)}"


def _number(name: str, written: str | None) -> str:
    """The same for a number, as it was written."""
    return "" if written is None else f"{name} = {written}"


def _flag(name: str, answer: str | None) -> str:
    return "" if answer is None else f"{name} = {toml.toml_value(answer == 'yes')}"


def _craft(w: Wishes) -> list[str]:
    return _table(
        "craft",
        *(_key(name, getattr(w, name)) for name in ("name", "kind", "rotor", "radio")),
        _number("motor-off", w.motor_off),
        _number("hover-throttle", w.hover_throttle),
        _number("hover-collective", w.hover_collective),
        _number("governed-above", w.governed_above),
        _flag("soft-start", w.soft_start),
        _flag("arms-when-stopped", w.arms_when_stopped),
    )


def _battery(w: Wishes) -> list[str]:
    table = _table(
        "battery",
        _key("chemistry", w.chemistry),
        _number("cells", w.cells),
        _number("capacity-mah", w.capacity_mah),
        _number("hover-current-a", w.hover_current_a),
        _number("resistance-mohm", w.resistance_mohm),
    )
    return table if len(table) > 2 else []


def _controls(w: Wishes) -> Iterator[str]:
    if w.throttle_trim is not None:
        yield from _table("sticks.throttle", f"trim = {w.throttle_trim}")
    yield from _table(
        f"switches.{w.hold_switch}",
        'kind = "two-position"            # stays where it is put, and does nothing else',
        'positions = ["off", "on"]',
        _key("place", w.hold_place),
    )
    if not w.without_rescue:
        yield from _table(
            f"switches.{w.rescue_switch}",
            'kind = "momentary"               # springs back: letting go ends the rescue',
            'positions = ["released", "pulled"]',
            _key("place", w.rescue_place),
        )
    if w.idle_up is not None:
        yield from _table(
            f"switches.{w.flight_switch}",
            'kind = "two-position"',
            'positions = ["normal", "idle-up"]',
            _key("place", w.flight_place),
        )


def _sensors(w: Wishes) -> Iterator[str]:
    if w.pack_sensor:
        yield from _table("sensors.pack", 'reads = "pack-voltage"', "shown = true")
    if w.link_sensor:
        yield from _table("sensors.link", 'reads = "link-quality"')


def _modes(w: Wishes) -> Iterator[str]:
    if w.idle_up is not None:
        yield from _table("modes.normal", f'when = "{w.flight_switch} is normal"', 'voice = "normal"')
        stays = "idle-up = true                   # the motor stays on at low stick, on purpose"
        yield from _table("modes.idle-up", stays, 'voice = "idle up"')


def _curves(w: Wishes) -> Iterator[str]:
    yield from ("", "[curves.throttle-normal]        # starts at a stop; soft around the hover where that is known")
    yield _key("points", _throttle(w))
    if w.collective:
        pitch = "[curves.pitch-normal]           # little negative pitch: nothing drives the craft into the ground"
        yield from ("", pitch, _key("points", _pitch(w)))
    if w.idle_up is not None:
        yield from _table("curves.throttle-idle-up", f"points = [[-100, {w.idle_up}], [100, {w.idle_up}]]")
        if w.collective:
            yield from ("", "[curves.pitch-idle-up]          # through the same hover: no jump from mode to mode")
            yield _key("points", _full_pitch(w))


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


def _full_pitch(w: Wishes) -> list[list[Fraction]]:
    points = _pitch(w)
    middle = points[len(points) // 2][1] if len(points) > 2 else Fraction(0)
    low, high = max(middle - 100, Fraction(-100)), min(middle + 100, Fraction(100))
    return [[Fraction(-100), low], [Fraction(0), middle], [Fraction(100), high]]


def _softened(hover: str, slope: str, ends: tuple[Fraction, Fraction] = FULL) -> list[list[Fraction]]:
    """ValueError where there is no curve with this slope at its hover."""
    return [list(point) for point in soften(hover, slope, ends)]


def _channels(w: Wishes) -> Iterator[str]:
    yield from _channel(w, "motor", "motor", '"throttle"', "throttle-normal", "throttle-idle-up", ", ramp-up = 2")
    if w.collective:
        yield from _channel(w, "pitch", "collective", '"throttle"', "pitch-normal", "pitch-idle-up")
    for name, (stick, _) in STEERING.items():
        yield from _channel(w, name, stick, f'"{stick}"')
    if w.level is not None:
        yield from _channel(w, "attitude", "stabiliser", w.level)


def _channel(
    w: Wishes, name: str, drives: str, source: str, curve: str | None = None, idle_up: str = "", ramp: str = ""
) -> list[str]:
    in_idle_up = f'in.idle-up = {{ curve = "{idle_up}"{ramp} }}' if idle_up and w.idle_up is not None else ""
    return _table(
        f"channels.{name}",
        _key("number", w.numbers.get(name)),
        f'drives = "{drives}"',
        f"from = {source}",
        _key("curve", curve),
        in_idle_up,
    )


def _overrides(w: Wishes) -> Iterator[str]:
    yield from _table(
        "overrides.held",
        'channel = "motor"',
        "value = -100                     # 0 where the transmitter shows 0 to 100",
        f'when = "{w.hold_switch} is on"',
        "priority = 100                   # above everything else, rescue included",
    )
    if not w.without_rescue:
        power, why = _power(w)
        for name, channel, value in (
            ("power", "motor", power and power + why),
            ("pitch", "pitch", w.rescue_pitch),
            ("level", "attitude", w.level),
        ):
            if value is not None:
                yield from _table(
                    f"overrides.rescue-{name}",
                    f'channel = "{channel}"',
                    f"value = {value}",
                    f'when = "{w.rescue_switch} is pulled"',
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
        why = "" if w.land_below is None else ", for the time that it takes to come back and down"
        yield from _table(
            "conditions.pack-low",
            f'when = "pack < {toml.toml_value(cell * int(w.cells))}"'.ljust(32)
            + f" # {toml.toml_value(cell)} V a cell{why}",
            "after = 1.5                      # s: a short dip is not yet an empty pack",
        )
        yield from _table("alarms.land-now", 'when = "pack-low"', 'voice = "land now"', "repeat = 5")
        yield from _table("alarms.pack-gone", 'when = "pack is lost"', "tone = true", "repeat = 8")
    if w.link_sensor:
        yield from _table("alarms.link-weak", 'when = "link < 60 or link is lost"', "tone = true", "repeat = 2")


def _timer(w: Wishes) -> Iterator[str]:
    if w.capacity_mah and w.hover_current_a:
        hours = Fraction(4, 5) * Fraction(w.capacity_mah) / 1000 / Fraction(w.hover_current_a)
        seconds = min(86400, int(hours * 3600) // 10 * 10)
        if seconds > 0:
            yield from _table(
                "timers.flight",
                f"seconds = {seconds}".ljust(32) + " # 80 % of the pack at hover current",
                f'runs = "not {w.hold_switch} is on"',
                'voice = "time to land"',
            )


def _failsafe(w: Wishes) -> Iterator[str]:
    yield from (
        "",
        "[failsafe]                       # what the receiver puts out with the link gone: try it, blades off",
    )
    unit = w.failsafe == "unit"
    yield 'motor = "unit"' if unit else "motor = -100"
    if w.collective:
        yield 'pitch = "unit"' if unit else "pitch = 0"
    yield from ("roll = 0", "nose = 0", "tail = 0")
    if w.level is not None:
        yield f"attitude = {w.level}"


def _start(w: Wishes) -> list[str]:
    if w.start_check == "no":
        return []
    normal = f" and {w.flight_switch} is normal" if w.idle_up is not None else ""
    return _table("start", f'requires = "{w.hold_switch} is on{normal} and throttle < -95"')


def _intent(w: Wishes) -> Iterator[str]:
    yield from _table("intent", f'hold = "{w.hold_switch} is on"')
    if w.without_rescue:
        return
    yield f'rescue = "{w.rescue_switch} is pulled"'
    if w.level is not None:
        yield f'level = {{ channel = "attitude", value = {w.level} }}'
    if w.lift is not None:
        yield 'lift = "unit"'
    elif w.rescue_pitch is not None:
        yield f'lift = {{ channel = "pitch", at-least = {w.rescue_pitch} }}'


def _claims() -> Iterator[str]:
    """What only the pilot knows: which way each stick moves the craft."""
    yield from (
        "",
        "# Which way is right only you know: try it, and where the craft goes the other way turn the sign round here too.",
    )
    for number, (channel, (stick, why)) in enumerate(STEERING.items()):
        yield from ([""] if number else [])
        yield from ("[[claims]]", f'always = "not ({stick} > 50) or output {channel} > 0"', f'because = "{why}"')
