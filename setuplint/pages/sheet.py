"""What to enter at the transmitter, in an order in which nothing dangerous exists half way: the hold stands before any curve
could drive the motor, the failsafe before that too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from fractions import Fraction
from hashlib import sha256
from typing import Any

from setuplint.formats.controls import with_unit
from setuplint.formats.numbers import decimal, percent
from setuplint.plain.evaluate import output
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import BySwitch, Channel, Line, Override, Setup, Term
from setuplint.setup.smoothings import sheet_words

REPORTED = ("claims", "waivers", "broken", "declared")  # of a model: what it is judged by, and how it was read
NAMED = ("Craft", "name")  # what the craft is called does nothing


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the sheet. `key` is for programs; each row's first cell names it; `curve` is one to be drawn."""

    key: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    curve: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """All of it. `since` is the file that it tells the changes from; `warning` is what lint finds."""

    craft: str
    file: str
    day: str
    fingerprint: str
    sections: tuple[Section, ...]
    since: str = ""
    warning: str = ""


CAREFUL = (
    "Motor leads out or blades off, and the pack out, until all of this is entered and read back. Then the bench card: what "
    "counts is what the channels put out."
)


def sheet(setup: Setup, file: str, day: str) -> Sheet:
    """The whole sheet of a set-up."""
    found = (
        _channels(setup),
        _travel(setup),
        _swash(setup),
        _switches(setup),
        _holds(setup),
        _failsafe(setup),
        _modes(setup),
        *_curves(setup),
        _lines(setup),
        _conditions(setup),
        _overrides(setup),
        _alarms(setup),
        _timers(setup),
        _start(setup),
        _screen(setup),
    )
    sections = tuple(section for section in found if section.rows)
    return Sheet(setup.craft.name, file, day, fingerprint(setup), sections)


def changed(new: Sheet, old: Sheet) -> Sheet:
    """Only the rows that the old sheet has not, and those that it has alone, to be taken out."""
    before = {section.key: section for section in old.sections}
    found = []
    for section in new.sections:
        was = before.pop(section.key, None)
        known = {row[0]: row for row in was.rows} if was is not None else {}
        rows = [row for row in section.rows if known.pop(row[0], None) != row]
        rows += [(f"{name} (take it out)", *row[1:]) for name, row in known.items()]
        if was is not None and was.note != section.note and not rows:
            rows = list(section.rows)
        if rows:
            found.append(Section(section.key, section.title, section.heads, tuple(rows), section.note, section.curve))
    for section in before.values():
        rows = [(f"{row[0]} (take it out)", *row[1:]) for row in section.rows]
        found.append(Section(section.key, section.title, section.heads, tuple(rows), section.note))
    return Sheet(new.craft, new.file, new.day, new.fingerprint, tuple(found), old.file)


def fingerprint(setup: Setup) -> str:
    """Eight hexadecimal digits of what the set-up means: comments, layout, the order of tables (but of modes) and how numbers
    are written do not change it."""
    return sha256(_told(setup).encode()).hexdigest()[:8]


def _told(value: Any, ordered: bool = False) -> str:
    if is_dataclass(value) and not isinstance(value, type):
        name = type(value).__name__
        kept = [
            x.name for x in fields(value) if not (name == "Setup" and x.name in REPORTED) and (name, x.name) != NAMED
        ]
        inner = ",".join(f"{key}={_told(getattr(value, key), ordered=key == 'modes')}" for key in kept)
        return f"{name}({inner})"
    if isinstance(value, Mapping):
        items = [f"{key}:{_told(each)}" for key, each in value.items()]
        return "{" + ",".join(items if ordered else sorted(items)) + "}"
    if isinstance(value, tuple | list):
        return "[" + ",".join(map(_told, value)) + "]"
    return str(value)


# -- numbers


def both(setup: Setup, value: Fraction | None) -> tuple[str, str, str]:
    """An output on the scale from -100 to +100, on that from 0 to 100, and as a pulse."""
    if value is None:
        return "", "", ""
    us = setup.craft.pulse_centre + setup.craft.pulse_per_percent * value
    return percent(value), decimal((value + 100) / 2), f"{decimal(us)} µs"


SCALES = ("-100 to +100", "0 to 100", "Pulse")


def said(formula: f.Formula | None) -> str:
    if formula is None:
        return "always"
    return formula_text(formula) or "cannot be read"


def _number(value: Fraction) -> str:
    return decimal(value, 6)


def _amount(amount: Fraction | BySwitch) -> str:
    if isinstance(amount, BySwitch):
        return ", ".join(f"{_number(value)} % at {amount.switch} {place}" for place, value in amount.at.items())
    return f"{_number(amount)} %"


# -- sections


def _channels(setup: Setup) -> Section:
    rows = [
        (c.name, "" if c.number is None else str(c.number), c.drives, "reversed" if c.reversed else "normal")
        for c in setup.channels.values()
    ]
    rows.sort(key=lambda row: (not row[1], int(row[1] or 0)))
    return Section("channels", "Channels", ("Channel", "Number", "Drives", "Direction"), tuple(rows))


def _travel(setup: Setup) -> Section:
    rows = []
    for c in setup.channels.values():
        limits = f"{_number(c.low)} to {_number(c.high)}" if c.low > -150 or c.high < 150 else "none"
        rows.append((c.name, _number(c.down), _number(c.up), _number(c.sub_trim), limits))
    heads = ("Channel", "Travel down, %", "Travel up, %", "Sub-trim, %", "Limits, %")
    return Section("travel", "Travel and sub-trim", heads, tuple(rows))


def _swash(setup: Setup) -> Section:
    """What the transmitter mixes for the swashplate."""
    rows: list[tuple[str, str]] = []
    if (swash := setup.swash) is not None:
        rows.append(("servos", swash.servos))
        shares = {"collective": swash.collective, "cyclic": swash.cyclic}
        rows += [(name, f"{_number(x)} % of servo travel at full stick") for name, x in shares.items() if x is not None]
        rows.append(("ring", "none: the whole square" if swash.ring is None else f"{_number(swash.ring)} %"))
    note = "Mixed at the transmitter: aileron, elevator and collective are what is asked of the mixer."
    return Section("swash", "Swashplate", ("Mixer", "Value"), tuple(rows), note)


def _switches(setup: Setup) -> Section:
    rows = []
    for switch in setup.switches.values():
        places = ", ".join(f"{n}. {word}" for n, word in enumerate(switch.positions, start=1))
        kind = "springs back to the first" if switch.sprung else switch.kind
        rows.append((switch.name, switch.place or "", kind, places))
    for stick in setup.sticks.values():
        if stick.knob or stick.place or stick.trim is not None:
            trim = "" if stick.trim is None else f"trim {_number(stick.trim)} % either way"
            rows.append((stick.name, stick.place or "", "knob" if stick.knob else "stick", trim))
    note = "The first position is where it rests."
    return Section(
        "switches", "Switches, sticks and knobs", ("Control", "Where", "Kind", "Positions"), tuple(rows), note
    )


def _stops(setup: Setup, override: Override) -> bool:
    """It stops a motor, and the hold has to do with when."""
    channel = setup.channels[override.channel]
    if channel.drives != "motor" or override.value is None or setup.craft.motor_off is None:
        return False
    return output(channel, override.value) <= setup.craft.motor_off


def _row(setup: Setup, override: Override, beats: str) -> tuple[str, ...]:
    put = None if override.value is None else output(setup.channels[override.channel], override.value)
    given = "" if override.value is None else percent(override.value)
    priority = "" if override.priority is None else _number(override.priority)
    return override.name, override.channel, said(override.when), priority, given, *both(setup, put), beats


OVERRIDES = ("Override", "Channel", "When", "Priority", "Value", *(f"Gives, {scale}" for scale in SCALES), "Beats")


def _beats(setup: Setup, override: Override) -> str:
    lower = [o.name for o in setup.overrides.values() if o.channel == override.channel and _rank(o) < _rank(override)]
    equal = [
        o.name
        for o in setup.overrides.values()
        if o.channel == override.channel and _rank(o) == _rank(override) and o.name != override.name
    ]
    text = ", ".join(lower) or "the channel's own line"
    return f"{text}; as high as {', '.join(equal)}" if equal else text


def _rank(override: Override) -> Fraction:
    return Fraction(0) if override.priority is None else override.priority


def _holds(setup: Setup) -> Section:
    """What stops the motor comes before anything that could drive it."""
    rows = [_row(setup, o, _beats(setup, o)) for o in _sorted(setup) if _stops(setup, o)]
    called = setup.intent.hold
    note = f"The hold is called by: {said(called)}. Enter it before any curve." if called is not None else ""
    return Section("hold", "What stops the motor, first of all", OVERRIDES, tuple(rows), note)


def _sorted(setup: Setup) -> list[Override]:
    return sorted(setup.overrides.values(), key=lambda o: (-_rank(o), list(setup.overrides).index(o.name)))


def _failsafe(setup: Setup) -> Section:
    words = {"keep": "keep what it was", "unit": "the stabiliser takes over", "none": "no pulses"}
    rows = []
    for name, entry in (setup.failsafe or {}).items():
        number = setup.channels[name].number if name in setup.channels else None
        values = (words[entry], "", "") if isinstance(entry, str) else both(setup, entry)
        rows.append((name, "" if number is None else str(number), *values))
    note = "At the receiver: teach it, then switch the transmitter off to see it, with the craft held fast."
    return Section("failsafe", "Failsafe", ("Channel", "Number", *SCALES), tuple(rows), note)


def _modes(setup: Setup) -> Section:
    rows = [
        (f"{n}. {mode.name}", said(mode.when), mode.voice or "silent", "idle-up" if mode.idle_up else "")
        for n, mode in enumerate(setup.modes.values(), start=1)
    ]
    note = "In deciding order: the first whose condition holds is flown."
    return Section("modes", "Flight modes", ("Mode", "When", "Says", ""), tuple(rows), note)


def _curves(setup: Setup) -> Iterator[Section]:
    for curve in setup.curves.values():
        users = [
            c for c in setup.channels.values() if any(_reads(line, curve.name) for line in (c.own, *c.lines.values()))
        ]
        rows = []
        for n, (x, y) in enumerate(curve.points, start=1):
            us = both(setup, output(users[0], y))[2] if len(users) == 1 else ""
            rows.append((str(n), percent(x), percent(y), decimal((y + 100) / 2), us))
        used = f"for {', '.join(c.name for c in users)}" if users else "not used"
        heads = ("Point", "Stick", "Value, -100 to +100", "Value, 0 to 100", "Pulse at the receiver")
        note = f"{sheet_words(curve.smoothing)}; {used}"
        yield Section(f"curve {curve.name}", f"Curve {curve.name}", heads, tuple(rows), note, curve.name)


def _reads(line: Line, curve: str) -> bool:
    return any(term.curve == curve for term in line.terms or ())


def _lines(setup: Setup) -> Section:
    rows = []
    for channel in setup.channels.values():
        told: dict[str, list[str]] = {}
        for mode in setup.modes or [""]:
            text = _line(channel, mode or None)
            told.setdefault(text, []).append(mode)
        for text, modes in told.items():
            where = "" if len(told) == 1 or not setup.modes else f" in {', '.join(modes)}"
            rows.append((f"{channel.name}{where}", text))
    return Section("lines", "What each channel follows", ("Channel", "Follows"), tuple(rows))


def _line(channel: Channel, mode: str | None) -> str:
    line = channel.line(mode)
    if line.terms is None:
        return "not described"
    text = " + ".join(map(_term, line.terms))
    for word, seconds in (("up", line.ramp_up), ("down", line.ramp_down)):
        if seconds:
            text += f"; {_number(seconds)} s from end to end going {word}"
    return text


def _term(term: Term) -> str:
    if isinstance(term.source, Fraction):
        return f"{percent(term.source)} ({decimal((term.source + 100) / 2)} of 100)"
    if term.kind == "switch":
        places = ", ".join(f"{percent(value)} at {place}" for place, value in term.values.items())
        return f"switch {term.source}: {places}"
    text = f"{term.source}, rate {_amount(term.rate)}"
    if term.expo != 0:
        text += f", expo {_amount(term.expo)}"
    return text + (f", curve {term.curve}" if term.curve else "")


def _conditions(setup: Setup) -> Section:
    rows = []
    for c in setup.conditions.values():
        about = []
        if c.after:
            about.append(f"after {_number(c.after)} s without a break")
        if c.stays:
            about.append(f"stays {_number(c.stays)} s longer")
        if c.until is not None:
            about.append(f"then stays on until {said(c.until)}")
        if c.toggles:
            about.append("changes over each time")
        rows.append((c.name, said(c.when), "; ".join(about)))
    return Section("conditions", "Conditions", ("Condition", "When", "And"), tuple(rows))


def _overrides(setup: Setup) -> Section:
    rows = [_row(setup, o, _beats(setup, o)) for o in _sorted(setup) if not _stops(setup, o)]
    note = "The highest first. What stops the motor is entered already."
    return Section("overrides", "Overrides", OVERRIDES, tuple(rows), note)


def _alarms(setup: Setup) -> Section:
    rows = []
    for alarm in setup.alarms.values():
        how = [f"says “{alarm.voice}”"] if alarm.voice else []
        how += ["tone"] if alarm.tone else []
        how += ["vibrates"] if alarm.vibrate else []
        again = f"every {_number(alarm.repeat)} s" if alarm.repeat else "once"
        rows.append(
            (alarm.name, said(alarm.when), "; ".join(_volts(setup, alarm.when)), ", ".join(how) or "silent", again)
        )
    heads = ("Alarm", "When", "Volts a cell", "How", "Repeats")
    return Section("alarms", "Alarms", heads, tuple(rows))


def _volts(setup: Setup, formula: f.Formula) -> Iterator[str]:
    """Pack volts as volts a cell, through the conditions behind the formula."""
    cells = setup.battery.cells
    left, seen = [formula], set[str]()
    while left:
        for atom in f.atoms(left.pop()):
            if isinstance(atom, f.Holds) and atom.condition not in seen:
                seen.add(atom.condition)
                left.append(setup.conditions[atom.condition].when)
            elif isinstance(atom, f.Compare) and atom.name in setup.sensors:
                reads = setup.sensors[atom.name].reads
                if reads == "pack-voltage" and cells:
                    each = decimal(atom.number / cells, 3)
                    yield f"{with_unit(reads, atom.number)} is {each} V a cell"


def _timers(setup: Setup) -> Section:
    rows = []
    for timer in setup.timers.values():
        minutes, seconds = divmod(timer.seconds, 60)
        shown = f"{minutes}:{'0' if seconds < 10 else ''}{_number(seconds)}"
        how = [f"says “{timer.voice}”"] if timer.voice else []
        how += ["tone"] if timer.tone else []
        how += ["vibrates"] if timer.vibrate else []
        rows.append((timer.name, shown, said(timer.runs), ", ".join(how) or "silent"))
    return Section("timers", "Timers", ("Timer", "Minutes", "Counts while", "At the end"), tuple(rows))


def _start(setup: Setup) -> Section:
    rows = () if setup.start is None else (("Start only if", said(setup.start)),)
    return Section("start", "Start check", ("Check", "What must hold at power-up"), rows)


def _screen(setup: Setup) -> Section:
    rows = [(s.name, s.reads) for s in setup.sensors.values() if s.shown]
    return Section("screen", "On the screen in flight", ("Sensor", "Shows"), tuple(rows))
