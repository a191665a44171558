"""The tables of a sheet: what to enter at the transmitter, as the file has it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from setuplint.formats.control_words import with_unit
from setuplint.formats.numbers import decimal, percent
from setuplint.plain.channel_values import output
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Alarm, BySwitch, Channel, Override, Setup, Term, Timer
from setuplint.setup.smoothings import sheet_words

SCALES = ("-100 to +100", "0 to 100", "Pulse")


@dataclass(frozen=True, slots=True)
class SheetTable:
    """One table of the sheet. `key` is for programs; the first cell of each row names it; `curve` is to be drawn."""

    key: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    curve: str = ""


def sheet_tables(setup: Setup) -> Iterator[SheetTable]:
    """Every table, in the order in which it is entered; one without rows has nothing to enter."""
    for table in (_channels, _travel, _swash, _switches, _motor_stops, _failsafe, _modes):
        yield table(setup)
    yield from _curves(setup)
    for table in (_channel_lines, _conditions, _overrides, _alarms, _timers, _trainer, _start, _screen):
        yield table(setup)


# -- words


def _scale_cells(setup: Setup, value: Fraction | None) -> tuple[str, str, str]:
    """An output on the scale from -100 to +100, on that from 0 to 100, and as a pulse."""
    if value is None:
        return "", "", ""
    us = setup.craft.pulse_centre + setup.craft.pulse_per_percent * value
    return percent(value), decimal((value + 100) / 2), f"{decimal(us)} µs"


def _condition_words(formula: f.Formula | None) -> str:
    if formula is None:
        return "always"
    return formula_text(formula) or "cannot be read"


def _decimal(value: Fraction) -> str:
    return decimal(value, 6)


def _amount_words(amount: Fraction | BySwitch) -> str:
    if isinstance(amount, BySwitch):
        return ", ".join(f"{_decimal(value)} % at {amount.switch} {place}" for place, value in amount.at.items())
    return f"{_decimal(amount)} %"


# -- tables


def _channels(setup: Setup) -> SheetTable:
    rows = [
        (c.name, "" if c.number is None else str(c.number), c.drives, "reversed" if c.reversed else "normal")
        for c in setup.channels.values()
    ]
    rows.sort(key=lambda row: (not row[1], int(row[1] or 0)))
    return SheetTable("channels", "Channels", ("Channel", "Number", "Drives", "Direction"), tuple(rows))


def _travel(setup: Setup) -> SheetTable:
    rows = []
    for c in setup.channels.values():
        limits = f"{_decimal(c.low)} to {_decimal(c.high)}" if c.low > -150 or c.high < 150 else "none"
        rows.append((c.name, _decimal(c.down), _decimal(c.up), _decimal(c.sub_trim), limits))
    heads = ("Channel", "Travel down, %", "Travel up, %", "Sub-trim, %", "Limits, %")
    return SheetTable("travel", "Travel and sub-trim", heads, tuple(rows))


def _swash(setup: Setup) -> SheetTable:
    """What the transmitter mixes for the swashplate."""
    rows: list[tuple[str, str]] = []
    if (swash := setup.swash) is not None:
        rows.append(("servos", swash.servos))
        shares = {"collective": swash.collective, "cyclic": swash.cyclic}
        rows += [
            (name, f"{_decimal(x)} % of servo travel at full stick") for name, x in shares.items() if x is not None
        ]
        rows.append(("ring", "none: the whole square" if swash.ring is None else f"{_decimal(swash.ring)} %"))
    note = "Mixed at the transmitter: aileron, elevator and collective are what is asked of the mixer."
    return SheetTable("swash", "Swashplate", ("Mixer", "Value"), tuple(rows), note)


def _switches(setup: Setup) -> SheetTable:
    rows = []
    for switch in setup.switches.values():
        places = ", ".join(f"{n}. {word}" for n, word in enumerate(switch.positions, start=1))
        kind = "springs back to the first" if switch.sprung else switch.kind
        rows.append((switch.name, switch.place or "", kind, places))
    for stick in setup.sticks.values():
        if stick.pupil_of is None and (stick.knob or stick.place or stick.trim is not None):
            trim = "" if stick.trim is None else f"trim {_decimal(stick.trim)} % either way"
            rows.append((stick.name, stick.place or "", "knob" if stick.knob else "stick", trim))
    note = "The first position is where it rests."
    return SheetTable(
        "switches", "Switches, sticks and knobs", ("Control", "Where", "Kind", "Positions"), tuple(rows), note
    )


def _stops_motor(setup: Setup, override: Override) -> bool:
    """Whether a motor stands still while the override decides."""
    channel = setup.channels[override.channel]
    most = override.value if not override.limits else override.at_least if channel.reversed else override.at_most
    if channel.drives != "motor" or most is None or setup.craft.motor_off is None:
        return False
    return output(channel, most) <= setup.craft.motor_off


def _override_rows(setup: Setup, *, stopping: bool) -> tuple[tuple[str, ...], ...]:
    """Those that stop a motor, or those that do not; the highest first."""
    order = sorted(setup.overrides.values(), key=lambda override: -_rank(override))
    return tuple(_override_row(setup, each) for each in order if _stops_motor(setup, each) is stopping)


def _override_row(setup: Setup, override: Override) -> tuple[str, ...]:
    channel = setup.channels[override.channel]
    cells = [_scale_cells(setup, output(channel, number)) for number in override.numbers.values()]
    gives = tuple(map(" … ".join, zip(*cells, strict=True))) if cells else _scale_cells(setup, None)
    given = override.words(percent) if override.numbers else ""
    priority = "" if override.priority is None else _decimal(override.priority)
    decides = (override.name, override.channel, _condition_words(override.when), priority, given)
    return (*decides, *gives, _beaten(setup, override))


OVERRIDES = ("Override", "Channel", "When", "Priority", "Value", *(f"Gives, {scale}" for scale in SCALES), "Beats")


def _beaten(setup: Setup, override: Override) -> str:
    """Whom it takes the channel from."""
    others = [o for o in setup.overrides.values() if o.channel == override.channel and o.name != override.name]
    lower = [o.name for o in others if _rank(o) < _rank(override)]
    equal = [o.name for o in others if _rank(o) == _rank(override)]
    text = ", ".join(lower) or "the channel's own line"
    return f"{text}; as high as {', '.join(equal)}" if equal else text


def _rank(override: Override) -> Fraction:
    return Fraction(0) if override.priority is None else override.priority


def _motor_stops(setup: Setup) -> SheetTable:
    """What stops the motor comes before anything that could drive it."""
    rows = _override_rows(setup, stopping=True)
    called = setup.intent.hold
    note = (
        f"The hold is called by: {_condition_words(called)}. Enter it before any curve." if called is not None else ""
    )
    return SheetTable("hold", "What stops the motor, first of all", OVERRIDES, rows, note)


def _failsafe(setup: Setup) -> SheetTable:
    words = {"keep": "keep what it was", "unit": "the stabiliser takes over", "none": "no pulses"}
    rows = []
    for name, entry in (setup.failsafe or {}).items():
        number = setup.channels[name].number if name in setup.channels else None
        values = (words[entry], "", "") if isinstance(entry, str) else _scale_cells(setup, entry)
        rows.append((name, "" if number is None else str(number), *values))
    note = "At the receiver: teach it, then switch the transmitter off to see it, with the craft held fast."
    return SheetTable("failsafe", "Failsafe", ("Channel", "Number", *SCALES), tuple(rows), note)


def _modes(setup: Setup) -> SheetTable:
    rows = [
        (f"{n}. {mode.name}", _condition_words(mode.when), mode.voice or "silent", "idle-up" if mode.idle_up else "")
        for n, mode in enumerate(setup.modes.values(), start=1)
    ]
    note = "In deciding order: the first whose condition holds is flown."
    return SheetTable("modes", "Flight modes", ("Mode", "When", "Says", ""), tuple(rows), note)


def _curves(setup: Setup) -> Iterator[SheetTable]:
    for curve in setup.curves.values():
        users = [channel for channel in setup.channels.values() if _reads_curve(channel, curve.name)]
        rows = []
        for n, (x, y) in enumerate(curve.points, start=1):
            us = _scale_cells(setup, output(users[0], y))[2] if len(users) == 1 else ""
            rows.append((str(n), percent(x), percent(y), decimal((y + 100) / 2), us))
        used = f"for {', '.join(c.name for c in users)}" if users else "not used"
        heads = ("Point", "Stick", "Value, -100 to +100", "Value, 0 to 100", "Pulse at the receiver")
        note = f"{sheet_words(curve.smoothing)}; {used}"
        yield SheetTable(f"curve {curve.name}", f"Curve {curve.name}", heads, tuple(rows), note, curve.name)


def _reads_curve(channel: Channel, curve: str) -> bool:
    return any(term.curve == curve for line in (channel.own, *channel.lines.values()) for term in line.terms or ())


def _channel_lines(setup: Setup) -> SheetTable:
    rows = []
    for channel in setup.channels.values():
        modes_of: dict[str, list[str]] = {}
        for mode in setup.modes or [""]:
            modes_of.setdefault(_line_words(channel, mode or None), []).append(mode)
        for text, modes in modes_of.items():
            where = "" if len(modes_of) == 1 or not setup.modes else f" in {', '.join(modes)}"
            rows.append((f"{channel.name}{where}", text))
    return SheetTable("lines", "What each channel follows", ("Channel", "Follows"), tuple(rows))


def _line_words(channel: Channel, mode: str | None) -> str:
    line = channel.line(mode)
    if line.terms is None:
        return "not described"
    text = " + ".join(map(_term_words, line.terms))
    for word, seconds in (("up", line.ramp_up), ("down", line.ramp_down)):
        if seconds:
            text += f"; {_decimal(seconds)} s from end to end going {word}"
    return text


def _term_words(term: Term) -> str:
    if isinstance(term.source, Fraction):
        return f"{percent(term.source)} ({decimal((term.source + 100) / 2)} of 100)"
    if term.kind == "switch":
        places = ", ".join(f"{percent(value)} at {place}" for place, value in term.values.items())
        return f"switch {term.source}: {places}"
    text = f"{term.source}, rate {_amount_words(term.rate)}"
    if term.expo != 0:
        text += f", expo {_amount_words(term.expo)}"
    return text + (f", curve {term.curve}" if term.curve else "")


def _conditions(setup: Setup) -> SheetTable:
    rows = []
    for c in setup.conditions.values():
        more = [f"after {_decimal(c.after)} s without a break"] if c.after else []
        more += [f"stays {_decimal(c.stays)} s longer"] if c.stays else []
        more += [f"then stays on until {_condition_words(c.until)}"] if c.until is not None else []
        more += ["changes over each time"] if c.toggles else []
        rows.append((c.name, _condition_words(c.when), "; ".join(more)))
    return SheetTable("conditions", "Conditions", ("Condition", "When", "And"), tuple(rows))


def _overrides(setup: Setup) -> SheetTable:
    rows = _override_rows(setup, stopping=False)
    note = "The highest first. What stops the motor is entered already."
    return SheetTable("overrides", "Overrides", OVERRIDES, rows, note)


def _alarms(setup: Setup) -> SheetTable:
    rows = []
    for alarm in setup.alarms.values():
        volts = "; ".join(_cell_volts(setup, alarm.when))
        again = f"every {_decimal(alarm.repeat)} s" if alarm.repeat else "once"
        rows.append((alarm.name, _condition_words(alarm.when), volts, _sound(alarm), again))
    heads = ("Alarm", "When", "Volts a cell", "How", "Repeats")
    return SheetTable("alarms", "Alarms", heads, tuple(rows))


def _sound(alarm: Alarm | Timer) -> str:
    how = [f"says “{alarm.voice}”"] if alarm.voice else []
    how += ["tone"] if alarm.tone else []
    how += ["vibrates"] if alarm.vibrate else []
    return ", ".join(how) or "silent"


def _cell_volts(setup: Setup, formula: f.Formula) -> Iterator[str]:
    """Thresholds of pack volts as volts a cell, also of the conditions behind the formula."""
    left, seen = [formula], set[str]()
    while left:
        for atom in f.atoms(left.pop()):
            if isinstance(atom, f.Holds) and atom.condition not in seen:
                seen.add(atom.condition)
                left.append(setup.conditions[atom.condition].when)
            elif isinstance(atom, f.Compare) and atom.name in setup.sensors:
                reads, cells = setup.sensors[atom.name].reads, setup.cells_of(setup.sensors[atom.name])
                if reads == "pack-voltage" and cells:
                    each = decimal(atom.number / cells, 3)
                    yield f"{with_unit(reads, atom.number)} is {each} V a cell"


def _trainer(setup: Setup) -> SheetTable:
    """What a pupil's transmitter gets, and when."""
    trainer = setup.trainer
    rows = () if trainer is None else ((", ".join(trainer.sticks), _condition_words(trainer.lent)),)
    note = "The pupil has these sticks and no other control. Hold, stop and rescue stay with the teacher."
    return SheetTable("trainer", "Trainer", ("Sticks that are lent", "While"), rows, note)


def _timers(setup: Setup) -> SheetTable:
    rows = []
    for timer in setup.timers.values():
        minutes, seconds = divmod(timer.seconds, 60)
        shown = f"{minutes}:{'0' if seconds < 10 else ''}{_decimal(seconds)}"
        rows.append((timer.name, shown, _condition_words(timer.runs), _sound(timer)))
    return SheetTable("timers", "Timers", ("Timer", "Minutes", "Counts while", "At the end"), tuple(rows))


def _start(setup: Setup) -> SheetTable:
    check = setup.start or setup.start_warns
    words = "Start only if" if setup.start is not None else "Warn unless"
    rows = () if check is None else ((words, _condition_words(check)),)
    return SheetTable("start", "Start check", ("Check", "What must hold at power-up"), rows)


def _screen(setup: Setup) -> SheetTable:
    rows = [(s.name, s.reads) for s in setup.sensors.values() if s.shown]
    return SheetTable("screen", "On the screen in flight", ("Sensor", "Shows"), tuple(rows))
