"""The named parts other than channels, each as far as it can be read."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from fractions import Fraction
from itertools import pairwise

from setuplint.setup.formulas import RESERVED, Formula, Not, Unknown, spelled
from setuplint.setup.model import (
    ZERO,
    Alarm,
    Battery,
    Bound,
    Claim,
    Condition,
    Craft,
    Curve,
    Intent,
    Mode,
    Override,
    Path,
    Sensor,
    Swash,
    Switch,
    Timer,
    Waiver,
)
from setuplint.setup.names import Names, none_of
from setuplint.setup.part import Part, exact
from setuplint.setup.problems import Notes, dotted, quoted

DEFAULT_POSITIONS: Mapping[str, tuple[str, ...]] = {
    "momentary": ("released", "pulled"),
    "two-position": ("off", "on"),
    "three-position": ("up", "middle", "down"),
}


def build_craft(part: Part, name: str) -> Craft:
    kind = part.word("kind", "helicopter")
    pulse = part.child("pulse") if part.given("pulse") else Part(part.notes, part.at("pulse"), {})
    motor_off = part.number("motor-off")
    rotor_free = part.number("rotor-free", motor_off)
    governed_above = part.number("governed-above")
    rotor = part.word("rotor", "fixed" if kind == "multirotor" else "collective")
    if part.given("hover-collective") and rotor == "fixed" and not part.lost("rotor") and not part.lost("kind"):
        because = "rotor = “fixed”" if part.given("rotor") else "a multirotor has a fixed-pitch rotor"
        _wrong(part, "hover-collective", f"{because}, which has no collective", "leave hover-collective out")
    if motor_off is not None and rotor_free is not None and rotor_free < motor_off:
        message = f"rotor-free ({_shown(part, 'rotor-free')}) is below motor-off ({_shown(part, 'motor-off')})"
        _wrong(part, "rotor-free", message, "where the motor is stopped the rotor is not driven either", "motor-off")
        rotor_free = None
    if governed_above is not None and rotor_free is not None and governed_above <= rotor_free:
        below = "rotor-free" if part.given("rotor-free") else "motor-off"
        message = f"governed-above ({_shown(part, 'governed-above')}) is not above {below} ({_shown(part, below)})"
        _wrong(part, "governed-above", message, "a governor holds the speed of a rotor that is driven", below)
        governed_above = None
    return Craft(
        name=part.text("name") or name,
        kind=kind,
        rotor=rotor,
        power=part.text("power"),
        radio=part.text("radio"),
        motor_off=motor_off,
        rotor_free=rotor_free,
        hover_throttle=part.number("hover-throttle"),
        hover_collective=part.number("hover-collective"),
        soft_start=part.get("soft-start"),
        governed_above=governed_above,
        arms_when_stopped=part.get("arms-when-stopped"),
        hover_measured_at_m=part.number("hover-measured-at-m"),
        pulse_centre=pulse.number("centre") or Fraction(1500),
        pulse_per_percent=pulse.number("per-percent") or Fraction(5),
    )


def _wrong(part: Part, key: str, message: str, help: str, other: str = "") -> None:
    related = ((part.at(other), f"{other} is here"),) if other and part.given(other) else ()
    part.notes.add("not-a-setup", part.at(key), message, help, related=related)


def _shown(part: Part, key: str) -> str:
    return part.notes.seen(part.at(key), part.table.get(key))


def build_battery(part: Part) -> Battery:
    return Battery(
        chemistry=part.text("chemistry"),
        cells=part.get("cells"),
        capacity_mah=part.number("capacity-mah"),
        resistance_mohm=part.number("resistance-mohm"),
        hover_current_a=part.number("hover-current-a"),
        peak_current_a=part.number("peak-current-a"),
    )


def build_switch(part: Part) -> Switch | None:
    """None where its positions cannot be told, or whether it springs back."""
    kind = part.text("kind")
    words = part.get("positions")
    if words is None:
        if kind in DEFAULT_POSITIONS and part.absent("positions"):
            return Switch(part.name, str(kind), DEFAULT_POSITIONS[str(kind)], part.text("place"))
        if kind == "selector" and part.absent("positions"):
            part.notes.add(
                "not-a-setup", part.path, f"{dotted(part.path)} is a selector without positions",
                'add positions = ["one", "two", "three"]', subject=dotted(part.at("positions")), lose=False,
            )  # fmt: skip
            part.notes.lose(part.at("positions"))
        return None
    positions = tuple(dict.fromkeys(words))
    for n, word in enumerate(words):
        if word in words[:n]:
            path = (*part.at("positions"), n)
            part.notes.add("not-a-setup", path, f"{dotted(part.path)} has two positions {quoted(word)}", "rename one")
        if word in RESERVED:
            reserved_word(part.notes, (*part.at("positions"), n), word)
    wanted = {"momentary": 2, "two-position": 2, "three-position": 3}.get(kind or "", len(words))
    if len(words) != wanted:
        message = f"{dotted(part.path)} has {len(words)} positions, and a {kind} switch has {wanted}"
        part.notes.add("not-a-setup", part.at("positions"), message, "name every position once, the one at rest first")
    if kind is None and len(positions) == 2:
        return None  # it may spring back or stay
    return Switch(part.name, kind or "selector", positions, part.text("place")) if len(positions) > 1 else None


def reserved_word(notes: Notes, path: Path, name: str, key: bool = False) -> None:
    message = f"“{name}” is a word of the formula language, and cannot be a name"
    notes.add("name-clash", path, message, f"call it for example {name}-1", subject=dotted(path), key=key)


def build_sensor(part: Part) -> Sensor | None:
    reads = part.text("reads")
    return None if reads is None else Sensor(part.name, reads, part.flag("shown"))


def build_condition(part: Part, names: Names) -> Condition:
    """Any mistake in it (but a name that is nothing: that is in its formula) makes the whole of it unknown."""
    notes = part.notes
    when, until = part.formula("when", names), part.formula("until", names)
    after, stays = part.number("after", ZERO), part.number("stays", ZERO)
    toggles = part.flag("toggles")
    if until is not None and toggles:
        message = f"{dotted(part.path)} has both until and toggles"
        _wrong(part, "toggles", message, "keep one: until latches, toggles changes over", "until")
    memory = "until" if until is not None else "toggles" if toggles else ""
    if stays and memory:
        _wrong(part, "stays", f"{dotted(part.path)} has both stays and {memory}", "keep one of the two", memory)
    unknown = part.path in notes.broken or any(part.lost(key) for key in ("when", "until", "after", "stays", "toggles"))
    if unknown or when is None or after is None or stays is None:
        notes.damage(part.path)
        return Condition(part.name, part.unknown())
    return Condition(part.name, when, after, stays, until, toggles)


def build_mode(part: Part, names: Names, last: bool) -> Mode:
    when = part.formula("when", names)
    if when is None and not last:
        part.notes.add(
            "not-a-setup", part.path, f"{dotted(part.path)} has no when, and is not the last mode",
            'add when = "...", or move it to the end: it would hide every mode below it',
            subject=dotted(part.at("when")), lose=False,
        )  # fmt: skip
        part.notes.lose(part.at("when"))
        when = part.unknown("when")
    aerobatic = part.flag("aerobatic")
    idle_up = part.flag("idle-up") if part.given("idle-up") else aerobatic
    known = not (part.lost("idle-up") or part.lost("aerobatic"))
    return Mode(part.name, when, idle_up, aerobatic, part.spoken(), known)


def build_curve(part: Part) -> Curve | None:
    points = part.table.get("points")
    if isinstance(points, list) and len(points) <= 33:
        _check_points(part, points)
    if part.lost("points") or part.lost("smoothing"):
        return None
    exact_points = tuple(
        (exact(part.notes, (*part.at("points"), n, 0), x), exact(part.notes, (*part.at("points"), n, 1), y))
        for n, (x, y) in enumerate(part.table["points"])
    )
    found = tuple((x, y) for x, y in exact_points if x is not None and y is not None)
    return Curve(part.name, found, part.word("smoothing", "none")) if len(found) == len(exact_points) else None


def _check_points(part: Part, points: list[object]) -> None:
    """Inputs outside ±100 or not rising, and too few points: curve-unordered, each once a curve."""
    notes, path = part.notes, part.at("points")
    if len(points) < 2 and path not in notes.gone:
        count = "one point" if points else "no points"
        help = "a curve has two to 33 points [input, output]"
        notes.add("curve-unordered", path, f"the curve {part.name} has {count}", help, subject=part.name)
    inputs = [
        (n, pair[0])
        for n, pair in enumerate(points)
        if isinstance(pair, list) and len(pair) == 2 and not isinstance(pair[0], bool | str | list | dict)
    ]
    inputs = [(n, x) for n, x in inputs if (*path, n, 0) not in notes.lost]
    outside = next((n for n, x in inputs if not -100 <= x <= 100), None)
    if outside is not None:
        at = (*path, outside, 0)
        message = f"the curve {part.name} has a point at the input {notes.seen(at, notes.at(at))}, outside -100 to 100"
        notes.add("curve-unordered", at, message, "give inputs from -100 to 100", subject=part.name)
    inside = [(n, x) for n, x in inputs if -100 <= x <= 100]
    for (m, before), (n, x) in pairwise(inside):
        if x <= before:
            at, other = (*path, n, 0), (*path, m, 0)
            shown = notes.seen(at, x), notes.seen(other, before)
            message = f"the inputs of the curve {part.name} do not rise: {shown[0]} comes after {shown[1]}"
            help = "put the points in the order of their inputs, each input once"
            related = ((other, "the point before"),)
            notes.add("curve-unordered", at, message, help, subject=part.name, related=related)
            return


def no_channel(notes: Notes, path: Path, channel: str, near: str | None, names: Names, key: bool = False) -> None:
    help = f"did you mean {near}?" if near else none_of("channels", names.channels)
    message = f"there is no channel {quoted(channel)}"
    notes.add("unknown-name", path, message, help, subject=f"channel {channel}", key=key)


def build_override(part: Part, names: Names) -> Override | None:
    """None where it is not known which channel it acts on."""
    value, priority = part.number("value"), part.number("priority", ZERO)
    when = part.formula("when", names) or part.unknown("when")
    channel = part.text("channel")
    if channel is not None and channel not in names.channels:
        near = names.nearest.of(channel, names.channels)
        if not names.may_be_missing("channels"):
            no_channel(part.notes, part.at("channel"), channel, near, names)
        channel, value = near, None
    return None if channel is None else Override(part.name, channel, value, when, priority)


def build_alarm(part: Part, names: Names) -> Alarm:
    when = part.formula("when", names) or part.unknown("when")
    return Alarm(
        part.name,
        when,
        part.spoken(),
        part.flag("tone"),
        part.flag("vibrate"),
        part.number("repeat", ZERO) or ZERO,
    )


def build_timer(part: Part, names: Names) -> Timer | None:
    seconds = part.number("seconds")
    runs = part.formula("runs", names)
    if seconds is None:
        return None
    return Timer(part.name, seconds, runs, part.spoken(), part.flag("tone"), part.flag("vibrate"))


def build_swash(part: Part) -> Swash | None:
    servos = part.text("servos")
    if servos is None:
        return None
    return Swash(servos, part.number("collective"), part.number("cyclic"), part.number("ring"))


def build_failsafe(part: Part, names: Names) -> dict[str, Fraction | str] | None:
    found: dict[str, Fraction | str] = {}
    for channel in part.table:
        if channel not in names.channels:
            if not names.may_be_missing("channels"):
                near = names.nearest.of(channel, (c for c in names.channels if c not in part.table))
                no_channel(part.notes, part.at(channel), channel, near, names, key=True)
                if near:
                    part.notes.lose(part.at(near))
            continue
        value = part.text(channel) or part.number(channel)
        if value is not None:
            found[channel] = value
    return found or None


def build_intent(part: Part, names: Names) -> Intent:
    hold, stop, rescue = (part.formula(key, names) for key in ("hold", "stop", "rescue"))
    level, lift = _bound(part, "level", names), _bound(part, "lift", names)
    return Intent(hold, stop, rescue, level, part.text("lift") or lift)


def _bound(intent: Part, key: str, names: Names) -> Bound | None:
    if not isinstance(intent.table.get(key), dict):
        return None
    part, notes = intent.child(key), intent.notes
    limits = [limit for limit in ("at-least", "at-most", "value") if not part.absent(limit)]
    channel = part.text("channel")
    if channel is not None and channel not in names.channels and not names.may_be_missing("channels"):
        near = names.nearest.of(channel, names.channels)
        no_channel(notes, part.at("channel"), channel, near, names)
    if not limits:
        notes.add(
            "not-a-setup", part.path, f"{dotted(part.path)} does not say what the channel puts out",
            "add at-least, at-most or both, or value", subject=dotted(part.path),
        )  # fmt: skip
    if "value" in limits and len(limits) > 1 and not part.absent_is_unknown:
        _wrong(part, "value", f"{dotted(part.path)} has both value and {limits[0]}", "keep one of the two", limits[0])
    if channel is None or channel not in names.channels or intent.lost(key) or part.absent_is_unknown:
        notes.lose(part.path)
        return None
    return Bound(channel, part.number("at-least"), part.number("at-most"), part.number("value"))


def build_claim(part: Part, names: Names, index: int) -> Claim:
    given = [key for key in ("never", "always") if not part.absent(key)]
    if not part.absent_is_unknown and len(given) != 1:
        message = f"{dotted(part.path)} has " + ("both never and always" if given else "neither never nor always")
        help = "keep one of the two" if given else 'add never = "...", or always = "..."'
        part.notes.add("not-a-setup", part.at("always") if given else part.path, message, help)
    formulas = {key: part.formula(key, names, claim=True) for key in given}
    never: Formula | None = formulas.get("never")
    text = spelled(part.text("never") or "")
    if never is None and formulas.get("always") is not None:
        never, text = Not(formulas["always"]), f"not ({spelled(part.text('always') or '')})"  # type: ignore[arg-type]
    if never is None or len(given) > 1:
        never = Unknown(f"{dotted(part.path)} cannot be read")
    return Claim(never, text or dotted(part.path), part.text("because"), index)


def build_waiver(part: Part, index: int) -> Waiver | None:
    rule, reason, until, on = part.text("rule"), part.text("reason"), part.get("until"), part.get("on")
    if rule is None or reason is None or part.lost("until") or part.lost("on") or part.absent_is_unknown:
        return None
    if reason.isspace():
        help = "say why it is accepted"
        part.notes.add("not-a-setup", part.at("reason"), f"{dotted(part.at('reason'))} has nothing in it", help)
        return None
    return Waiver(rule, reason, None if on is None else tuple(on), until if isinstance(until, date) else None, index)
