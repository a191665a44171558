"""The named parts of a setup other than channels, each as far as it can be read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import pairwise

from setuplint.setup.fields import Fields, exact_number
from setuplint.setup.formula_parser import single_spaced
from setuplint.setup.formulas import RESERVED, Formula, Not, Or, Unknown
from setuplint.setup.model import (
    PATIENCE,
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
    ReceiverSupply,
    Sensor,
    Swash,
    Switch,
    Timer,
    Trainer,
    Waiver,
)
from setuplint.setup.names import Names, known_names_hint
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted, quoted, word_list

STICKS = ("throttle", "aileron", "elevator", "rudder")
DEFAULT_POSITIONS: Mapping[str, tuple[str, ...]] = {
    "momentary": ("released", "pulled"),
    "two-position": ("off", "on"),
    "three-position": ("up", "middle", "down"),
}


def craft(fields: Fields, name: str) -> Craft:
    kind = fields.word("kind", "helicopter")
    pulse = fields.child("pulse") if fields.is_given("pulse") else Fields(fields.notes, fields.path_of("pulse"), {})
    motor_off = fields.number("motor-off")
    rotor_free = fields.number("rotor-free", motor_off)
    governed_above = fields.number("governed-above")
    rotor = _rotor(fields, kind)
    if motor_off is not None and rotor_free is not None and rotor_free < motor_off:
        message = f"{_key_and_value(fields, 'rotor-free')} is below {_key_and_value(fields, 'motor-off')}"
        help = "where the motor is stopped the rotor is not driven either"
        fields.note_wrong("rotor-free", message, help, "motor-off")
        rotor_free = None
    if governed_above is not None and rotor_free is not None and governed_above <= rotor_free:
        below = "rotor-free" if fields.is_given("rotor-free") else "motor-off"
        message = f"{_key_and_value(fields, 'governed-above')} is not above {_key_and_value(fields, below)}"
        fields.note_wrong("governed-above", message, "a governor holds the speed of a rotor that is driven", below)
        governed_above = None
    return Craft(
        name=fields.text("name") or name,
        kind=kind,
        rotor=rotor,
        power=fields.text("power"),
        stabilised=fields.get("stabilised"),
        radio=fields.text("radio"),
        motor_off=motor_off,
        rotor_free=rotor_free,
        hover_throttle=fields.number("hover-throttle"),
        hover_collective=fields.number("hover-collective"),
        soft_start=fields.get("soft-start"),
        governed_above=governed_above,
        arms_when_stopped=fields.get("arms-when-stopped"),
        hover_measured_at_m=fields.number("hover-measured-at-m"),
        pulse_centre=pulse.number("centre") or Fraction(1500),
        pulse_per_percent=pulse.number("per-percent") or Fraction(5),
    )


def _rotor(fields: Fields, kind: str) -> str:
    """Fixed or collective; where it is not given it hangs on the kind."""
    rotor = fields.word("rotor", "fixed" if kind == "multirotor" else "collective")
    if fields.is_absent("rotor") and fields.is_lost("kind"):
        fields.notes.lose(fields.path_of("rotor"))
    is_fixed = rotor == "fixed" and not fields.is_lost("rotor")
    if is_fixed and fields.is_given("hover-collective"):
        because = "rotor = “fixed”" if fields.is_given("rotor") else "a multirotor has a fixed-pitch rotor"
        fields.note_wrong("hover-collective", f"{because}, which has no collective", "leave hover-collective out")
    return rotor


def _key_and_value(fields: Fields, key: str) -> str:
    return f"{key} ({fields.notes.value_text(fields.path_of(key), fields.table.get(key))})"


def battery(fields: Fields, base: Battery) -> Battery:
    """A pack, with what it does not give as in another."""
    return Battery(
        chemistry=base.chemistry if fields.is_absent("chemistry") else fields.text("chemistry"),
        cells=base.cells if fields.is_absent("cells") else fields.get("cells"),
        capacity_mah=fields.number("capacity-mah", base.capacity_mah),
        resistance_mohm=fields.number("resistance-mohm", base.resistance_mohm),
        hover_current_a=fields.number("hover-current-a", base.hover_current_a),
        peak_current_a=fields.number("peak-current-a", base.peak_current_a),
    )


def receiver_supply(fields: Fields) -> ReceiverSupply | None:
    kind, cells, volts = fields.text("kind"), fields.get("cells"), fields.number("volts")
    if kind is None:
        return None
    wanted, other = ("volts", "cells") if kind == "regulator" else ("cells", "volts")
    if fields.is_absent(wanted):
        fields.note_missing(wanted, f"has no {wanted}", "add volts = 6" if kind == "regulator" else "add cells = 2")
    if fields.is_given(other):
        fields.note_wrong(other, f"a {kind} has no {other} of its own here", f"leave {other} out")
    return ReceiverSupply(kind, cells, volts)


def switch(fields: Fields) -> Switch | None:
    """None where its positions cannot be told, or whether it springs back."""
    kind = fields.text("kind")
    words = fields.get("positions")
    if words is None:
        if kind in DEFAULT_POSITIONS and fields.is_absent("positions"):
            return Switch(fields.name, str(kind), DEFAULT_POSITIONS[str(kind)], fields.text("place"))
        if kind == "selector" and fields.is_absent("positions"):
            help = 'add positions = ["one", "two", "three"]'
            fields.note_missing("positions", "is a selector without positions", help)
        return None
    positions = tuple(dict.fromkeys(words))
    for n, word in enumerate(words):
        path = (*fields.path_of("positions"), n)
        if word in words[:n]:
            message = f"{dotted(fields.path)} has two positions {quoted(word)}"
            fields.notes.add("not-a-setup", path, message, "rename one")
        if word in RESERVED:
            note_reserved_word(fields.notes, path, word)
    wanted = {"momentary": (2, 3), "two-position": (2,), "three-position": (3,)}.get(kind or "", (len(words),))
    if len(words) not in wanted:
        counts = word_list(map(str, wanted))
        message = f"{dotted(fields.path)} has {len(words)} positions, and a {kind} switch has {counts}"
        fields.note_wrong("positions", message, "name every position once, the one at rest first")
    if kind is None and len(positions) in (2, 3):
        return None  # it may spring back or stay
    return Switch(fields.name, kind or "selector", positions, fields.text("place")) if len(positions) > 1 else None


def note_reserved_word(notes: Notes, path: Path, name: str, key: bool = False) -> None:
    message = f"“{name}” is a word of the formula language, and cannot be a name"
    notes.add("name-clash", path, message, f"call it for example {name}-1", subject=dotted(path), key=key)


def sensor(fields: Fields) -> Sensor | None:
    reads = fields.text("reads")
    if reads not in (None, "pack-voltage") and fields.is_given("cells"):
        message = f"{dotted(fields.path)} reads {reads}, which stands across no cells"
        fields.note_wrong("cells", message, "leave cells out")
    lost = reads == "pack-voltage" and fields.is_lost("cells")
    return None if reads is None or lost else Sensor(fields.name, reads, fields.flag("shown"), fields.get("cells"))


def note_too_many_cells(notes: Notes, sensors: Mapping[str, Sensor], packs: Iterable[Battery]) -> None:
    """Sensors that stand across more cells than the smallest pack has."""
    least = min((pack.cells for pack in packs if pack.cells is not None), default=None)
    for sensor in sensors.values():
        if least is not None and sensor.cells is not None and sensor.cells > least:
            message = f"sensors.{sensor.name} stands across {sensor.cells} cells, and the pack has {least}"
            notes.add("not-a-setup", ("sensors", sensor.name, "cells"), message, f"give at most {least}", lose=False)


def condition(fields: Fields, names: Names) -> Condition:
    """Any mistake in it (but a name that is nothing: that is in its formula) makes the whole of it unknown."""
    when, until = fields.formula("when", names), fields.formula("until", names)
    after, stays = fields.number("after", ZERO), fields.number("stays", ZERO)
    toggles = fields.flag("toggles")
    if until is not None and toggles:
        message = f"{dotted(fields.path)} has both until and toggles"
        fields.note_wrong("toggles", message, "keep one: until latches, toggles changes over", "until")
    memory = "until" if until is not None else "toggles" if toggles else ""
    if stays and memory:
        message = f"{dotted(fields.path)} has both stays and {memory}"
        fields.note_wrong("stays", message, "keep one of the two", memory)
    lost = any(fields.is_lost(key) for key in ("when", "until", "after", "stays", "toggles"))
    if lost or fields.path in fields.notes.broken or when is None or after is None or stays is None:
        fields.notes.damage(fields.path)
        return Condition(fields.name, fields.unknown())
    return Condition(fields.name, when, after, stays, until, toggles)


def mode(fields: Fields, names: Names, last: bool) -> Mode:
    when = fields.formula("when", names)
    if when is None and not last:
        help = 'add when = "...", or move it to the end: it would hide every mode below it'
        fields.note_missing("when", "has no when, and is not the last mode", help)
        when = fields.unknown("when")
    aerobatic = fields.flag("aerobatic")
    idle_up = fields.flag("idle-up") if fields.is_given("idle-up") else aerobatic
    known = not (fields.is_lost("idle-up") or fields.is_lost("aerobatic"))
    return Mode(fields.name, when, idle_up, aerobatic, fields.voice(), known)


def curve(fields: Fields) -> Curve | None:
    points = fields.table.get("points")
    if isinstance(points, list) and len(points) <= 33:
        _check_points(fields, points)
    if fields.is_lost("points") or fields.is_lost("smoothing"):
        return None
    exact = [
        [exact_number(fields.notes, (*fields.path_of("points"), n, place), each) for place, each in enumerate(pair)]
        for n, pair in enumerate(fields.table["points"])
    ]
    found = tuple((x, y) for x, y in exact if x is not None and y is not None)
    return Curve(fields.name, found, fields.word("smoothing", "none")) if len(found) == len(exact) else None


def _check_points(fields: Fields, points: list[object]) -> None:
    """Inputs outside ±100 or not rising, and too few points: curve-unordered, each once a curve."""
    notes, path = fields.notes, fields.path_of("points")
    if len(points) < 2 and path not in notes.gone:
        count = "one point" if points else "no points"
        help = "a curve has two to 33 points [input, output]"
        notes.add("curve-unordered", path, f"the curve {fields.name} has {count}", help, subject=fields.name)
    pairs = [(n, pair[0]) for n, pair in enumerate(points) if isinstance(pair, list) and len(pair) == 2]
    inputs = [
        (n, x) for n, x in pairs if not isinstance(x, bool | str | list | dict) and (*path, n, 0) not in notes.lost
    ]
    outside = next((n for n, x in inputs if not -100 <= x <= 100), None)
    if outside is not None:
        at = (*path, outside, 0)
        text = notes.value_text(at, notes.value_at(at))
        message = f"the curve {fields.name} has a point at the input {text}, outside -100 to 100"
        notes.add("curve-unordered", at, message, "give inputs from -100 to 100", subject=fields.name)
    inside = [(n, x) for n, x in inputs if -100 <= x <= 100]
    for (m, before), (n, x) in pairwise(inside):
        if x <= before:
            at, other = (*path, n, 0), (*path, m, 0)
            shown = notes.value_text(at, x), notes.value_text(other, before)
            message = f"the inputs of the curve {fields.name} do not rise: {shown[0]} comes after {shown[1]}"
            help = "put the points in the order of their inputs, each input once"
            related = ((other, "the point before"),)
            notes.add("curve-unordered", at, message, help, subject=fields.name, related=related)
            return


def note_no_channel(notes: Notes, path: Path, channel: str, near: str | None, names: Names, key: bool = False) -> None:
    help = f"did you mean {near}?" if near else known_names_hint("channels", names.channels)
    message = f"there is no channel {quoted(channel)}"
    notes.add("unknown-name", path, message, help, subject=f"channel {channel}", key=key)


def override(fields: Fields, names: Names) -> Override | None:
    """None where it is not known which channel it acts on."""
    value, least, most = _demanded(fields)
    priority = fields.number("priority", ZERO)
    when = fields.formula("when", names) or fields.unknown("when")
    channel = fields.text("channel")
    if channel is not None and channel not in names.channels:
        near = names.nearest.match(channel, names.channels)
        if not names.may_be_missing("channels"):
            note_no_channel(fields.notes, fields.path_of("channel"), channel, near, names)
        channel, value, least, most = near, None, None, None
    return None if channel is None else Override(fields.name, channel, value, when, priority, least, most)


def _demanded(fields: Fields) -> tuple[Fraction | None, Fraction | None, Fraction | None]:
    """Its value, or what it limits the line to; three times None where that is not to be relied on."""
    given = _said_of_output(fields, "what it demands of the channel", "value, or at-least, at-most or both")
    least, most = fields.number("at-least"), fields.number("at-most")
    if least is not None and most is not None and least > most:
        message = f"{_key_and_value(fields, 'at-least')} is above {_key_and_value(fields, 'at-most')}"
        fields.note_wrong("at-least", message, "the line cannot be kept inside nothing", "at-most")
        return None, None, None
    if ("value" in given and len(given) > 1) or any(fields.is_lost(key) for key in ("value", "at-least", "at-most")):
        return None, None, None
    return fields.number("value"), least, most


def _said_of_output(fields: Fields, what: str, keys: str) -> list[str]:
    """The keys that say what a channel is to put out; none, and value beside another, are findings."""
    given = [key for key in ("at-least", "at-most", "value") if not fields.is_absent(key)]
    if not given:
        fields.note_missing("value", f"does not say {what}", f"add {keys}")
    if "value" in given and len(given) > 1 and not fields.absent_is_unknown:
        message = f"{dotted(fields.path)} has both value and {given[0]}"
        fields.note_wrong("value", message, "keep one of the two", given[0])
    return given


def alarm(fields: Fields, names: Names) -> Alarm:
    when = fields.formula("when", names) or fields.unknown("when")
    lost = frozenset(key for key in ("voice", "tone", "vibrate", "repeat") if fields.is_lost(key))
    return Alarm(fields.name, when, *_sound(fields), fields.number("repeat", ZERO) or ZERO, lost)


def _sound(fields: Fields) -> tuple[str | None, bool, bool]:
    return fields.voice(), fields.flag("tone"), fields.flag("vibrate")


def timer(fields: Fields, names: Names) -> Timer | None:
    seconds = fields.number("seconds")
    runs = fields.formula("runs", names)
    if seconds is None:
        return None
    return Timer(fields.name, seconds, runs, *_sound(fields))


def swash(fields: Fields) -> Swash | None:
    servos = fields.text("servos")
    if servos is None:
        return None
    return Swash(servos, fields.number("collective"), fields.number("cyclic"), fields.number("ring"))


def failsafe(fields: Fields, names: Names) -> dict[str, Fraction | str] | None:
    found: dict[str, Fraction | str] = {}
    for channel in fields.table:
        if channel not in names.channels:
            if not names.may_be_missing("channels"):
                near = names.nearest.match(channel, (c for c in names.channels if c not in fields.table))
                note_no_channel(fields.notes, fields.path_of(channel), channel, near, names, key=True)
                if near:
                    fields.notes.lose(fields.path_of(near))
            continue
        value = fields.text(channel) or fields.number(channel)
        if value is not None:
            found[channel] = value
    return found or None


def start_check(fields: Fields, names: Names) -> tuple[Formula | None, Formula | None]:
    """What must hold at power-up, and what is only warned of: one of the two at most."""
    requires = fields.formula("requires", names)
    if requires is not None and not isinstance(requires, Unknown) and fields.is_lost("enforced"):
        return Or((requires, fields.unknown("enforced"))), None
    return (None, requires) if fields.get("enforced") is False else (requires, None)


def trainer(fields: Fields, names: Names) -> Trainer:
    """What cannot be read of it leaves open which sticks are lent, and when."""
    lent = fields.formula("lent", names) or fields.unknown("lent")
    listed = fields.get("sticks")
    path = fields.path_of("sticks")
    if not isinstance(listed, list) or any((*path, n) in fields.notes.lost for n in range(len(listed))):
        return Trainer(fields.unknown("sticks"), STICKS)
    for n, stick in enumerate(listed):
        if stick in listed[:n]:
            message = f"{dotted(fields.path)} lends {quoted(stick)} twice"
            fields.notes.add("not-a-setup", (*path, n), message, "name it once")
    return Trainer(lent, tuple(dict.fromkeys(listed)))


def intent(fields: Fields, names: Names) -> Intent:
    hold, stop, rescue = (fields.formula(key, names) for key in ("hold", "stop", "rescue"))
    level, lift = _bound(fields, "level", names), _bound(fields, "lift", names)
    return Intent(hold, stop, rescue, level, fields.text("lift") or lift)


def _bound(intent: Fields, key: str, names: Names) -> Bound | None:
    if not isinstance(intent.table.get(key), dict):
        return None
    fields, notes = intent.child(key), intent.notes
    channel = fields.text("channel")
    if channel is not None and channel not in names.channels and not names.may_be_missing("channels"):
        near = names.nearest.match(channel, names.channels)
        note_no_channel(notes, fields.path_of("channel"), channel, near, names)
    _said_of_output(fields, "what the channel puts out", "at-least, at-most or both, or value")
    lost = intent.is_lost(key) or any(fields.is_lost(end) for end in ("at-least", "at-most", "value"))
    if channel is None or channel not in names.channels or lost or fields.absent_is_unknown:
        notes.lose(fields.path)
        return None
    return Bound(channel, fields.number("at-least"), fields.number("at-most"), fields.number("value"))


def claim(fields: Fields, names: Names, index: int) -> Claim:
    given = [key for key in ("never", "always") if not fields.is_absent(key)]
    if not fields.absent_is_unknown and len(given) != 1:
        message = f"{dotted(fields.path)} has " + ("both never and always" if given else "neither never nor always")
        help = "keep one of the two" if given else 'add never = "...", or always = "..."'
        fields.notes.add("not-a-setup", fields.path_of("always") if given else fields.path, message, help)
    formulas = {key: fields.formula(key, names, claim=True) for key in given}
    never: Formula | None = formulas.get("never")
    text = single_spaced(fields.text("never") or "")
    if never is None and formulas.get("always") is not None:
        never, always = Not(formulas["always"]), fields.text("always")  # type: ignore[arg-type]
        text = f"not ({single_spaced(always)})" if always else ""
    if never is None or len(given) > 1:
        never = Unknown(f"{dotted(fields.path)} cannot be read")
    patience = fields.number("patience", PATIENCE)
    if patience is None:
        never, patience = never if isinstance(never, Unknown) else fields.unknown("patience"), PATIENCE
    return Claim(never, text or dotted(fields.path), fields.text("because"), index, patience)


def waiver(fields: Fields, index: int) -> Waiver | None:
    rule, reason, until, on = fields.text("rule"), fields.text("reason"), fields.get("until"), fields.get("on")
    lost = any(fields.is_lost(key) for key in ("until", "on", *fields.table))  # a key that is none may end or narrow it
    if rule is None or reason is None or lost or fields.absent_is_unknown:
        return None
    if not any(char.isprintable() and not char.isspace() for char in reason):
        message = f"{dotted(fields.path_of('reason'))} has nothing in it"
        fields.note_wrong("reason", message, "say why it is accepted")
        return None
    from datetime import date

    return Waiver(rule, reason, None if on is None else tuple(on), until if isinstance(until, date) else None, index)
