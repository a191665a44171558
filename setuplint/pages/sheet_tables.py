"""The tables of a sheet: what to enter at the transmitter, as the file has it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from setuplint.dataclass import dataclass
from setuplint.formats.control_words import with_unit
from setuplint.formats.numbers import decimal, percent
from setuplint.pages.curve_charts import curve_users
from setuplint.pages.override_map import OverrideRank, override_ranks
from setuplint.pages.sheet_stop import read_parts, stop_notes, stop_title, stopping_modes, stopping_overrides
from setuplint.plain.channel_values import output
from setuplint.setup import formulas as f
from setuplint.setup.dependencies import atoms_behind
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Alarm, BySwitch, Channel, Condition, Mode, Override, Setup, Switch, Term, Timer
from setuplint.setup.names import UNITS
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
    again: bool = False  # what its rows say stands in other tables too


def sheet_tables(setup: Setup) -> Iterator[SheetTable]:
    """Every table, in the order in which it is entered; one without rows has nothing to enter."""
    for table in (_first, _motor_stops, _channels, _travel, _swash, _switches, _failsafe, _modes):
        yield table(setup)
    yield from _curves(setup)
    for table in (_channel_lines, _sensors, _conditions, _overrides, _alarms, _timers, _trainer, _start):
        yield table(setup)


# -- words


def _scale_cells(setup: Setup, value: Fraction | None) -> tuple[str, str, str]:
    """An output on the scale from -100 to +100, on that from 0 to 100, and as a pulse."""
    if value is None:
        return "", "", ""
    return percent(value), decimal((value + 100) / 2), f"{decimal(setup.craft.pulse(value))} µs"


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


def _first(setup: Setup) -> SheetTable:
    """The memory, and the parts that what stops the motor is made of."""
    modes = list(stopping_modes(setup))
    overrides = stopping_overrides(setup)
    needed = read_parts(setup, [*(each.when for each in overrides), *(mode.when for mode, _ in modes)])
    place = f", on the transmitter “{setup.craft.radio}”" if setup.craft.radio else ""
    rows = [("memory", f"a new one, empty, for {setup.craft.name}{place}")]
    for c in setup.driving("motor"):
        number, *_, direction = _channel_row(c)[1:]
        _, down, up, trim, limits = _travel_row(c)
        travel = f"travel {down} % down, {up} % up; sub-trim {trim} %; limits {limits}"
        rows.append((f"channel {c.name}", f"receiver number: {number}; {direction}; {travel}"))
    for name in needed:
        if name in setup.switches:
            _, where, kind, places = _switch_row(setup.switches[name])
            rows.append((f"switch {name}", "; ".join(filter(None, (where, kind, places)))))
        elif name in setup.conditions:
            rows.append((f"condition {name}", "; ".join(filter(None, _condition_row(setup.conditions[name])[1:]))))
    rows += [(f"mode {mode.name}", f"{_condition_words(mode.when)}: {gives}") for mode, gives in modes]
    note = " ".join(stop_notes(setup, _condition_words))
    return SheetTable("first", stop_title(setup), ("What", "Enter"), tuple(rows), note, again=True)


def _channel_row(channel: Channel) -> tuple[str, ...]:
    number = "none in the file" if channel.number is None else str(channel.number)
    return channel.name, number, channel.drives, "reversed" if channel.reversed else "normal"


def _channels(setup: Setup) -> SheetTable:
    order = sorted(setup.channels.values(), key=lambda channel: channel.number or 99)
    rows = tuple(map(_channel_row, order))
    return SheetTable("channels", "Channels", ("Channel", "Receiver number", "Drives", "Direction"), rows)


def _travel_row(channel: Channel) -> tuple[str, ...]:
    limited = channel.low > -150 or channel.high < 150
    limits = f"{_decimal(channel.low)} to {_decimal(channel.high)}" if limited else "none"
    return channel.name, *map(_decimal, (channel.down, channel.up, channel.sub_trim)), limits


def _travel(setup: Setup) -> SheetTable:
    rows = tuple(map(_travel_row, setup.channels.values()))
    heads = ("Channel", "Travel down, %", "Travel up, %", "Sub-trim, %", "Limits, %")
    return SheetTable("travel", "Travel and sub-trim", heads, rows)


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


def _switch_row(switch: Switch) -> tuple[str, ...]:
    places = ", ".join(f"{n}. {word}" for n, word in enumerate(switch.positions, start=1))
    return switch.name, switch.place or "", "springs back to the first" if switch.sprung else switch.kind, places


def _switches(setup: Setup) -> SheetTable:
    rows = list(map(_switch_row, setup.switches.values()))
    for stick in setup.sticks.values():
        springs = stick.name == "throttle" and stick.rests_in_the_middle
        if stick.pupil_of is None and (stick.knob or stick.place or stick.trim is not None or springs):
            words = ["" if stick.trim is None else f"trim {_decimal(stick.trim)} % either way"]
            words += ["springs to the middle"] if springs else []
            rows.append(
                (stick.name, stick.place or "", "knob" if stick.knob else "stick", "; ".join(filter(None, words)))
            )
    note = "The first position is where it rests."
    heads = ("Control", "Where", "Kind", "Positions")
    return SheetTable("switches", "Switches, sticks and knobs", heads, tuple(rows), note)


def _override_rows(setup: Setup, *, stopping: bool) -> tuple[tuple[str, ...], ...]:
    """Those that stop a motor, or those that do not; the highest first."""
    own: dict[str, list[Override]] = {}
    for override in setup.overrides.values():
        own.setdefault(override.channel, []).append(override)
    beaten = {rank.override.name: _beaten(rank) for each in own.values() for rank in override_ranks(each)}
    order = sorted(setup.overrides.values(), key=lambda override: -(override.priority or Fraction(0)))
    stop = {each.name for each in stopping_overrides(setup)}
    return tuple(_override_row(setup, each, beaten) for each in order if (each.name in stop) is stopping)


def _override_row(setup: Setup, override: Override, beaten: Mapping[str, str]) -> tuple[str, ...]:
    channel = setup.channels[override.channel]
    cells = [_scale_cells(setup, output(channel, number)) for number in override.numbers.values()]
    gives = tuple(map(" … ".join, zip(*cells, strict=True))) if cells else _scale_cells(setup, None)
    given = override.words(percent) if override.numbers else ""
    priority = "" if override.priority is None else _decimal(override.priority)
    decides = (override.name, override.channel, _condition_words(override.when), priority, given)
    return (*decides, *gives, beaten[override.name])


OVERRIDES = ("Override", "Channel", "When", "Priority", "Value", *(f"Gives, {scale}" for scale in SCALES), "Beats")


def _beaten(rank: OverrideRank) -> str:
    """Whom it takes the channel from."""
    text = ", ".join(rank.lower) or "the channel's own line"
    return f"{text}; as high as {', '.join(rank.equal)}" if rank.equal else text


def _motor_stops(setup: Setup) -> SheetTable:
    """What stops the motor comes before anything that could drive it."""
    rows = _override_rows(setup, stopping=True)
    return SheetTable("hold", "The overrides that stop it", OVERRIDES, rows)


def _failsafe(setup: Setup) -> SheetTable:
    words = {
        "keep": "keep what it was",
        "unit": "the stabiliser takes over",
        "none": "no pulses",
        "": "not in the file",
    }
    rows = []
    given = setup.failsafe or {}
    for channel in setup.channels.values() if given else ():
        entry = given.get(channel.name, "")
        values = (words[entry], "", "") if isinstance(entry, str) else _scale_cells(setup, entry)
        rows.append((*_channel_row(channel)[:2], *values))
    note = "At the receiver: teach it, then switch the transmitter off to see it, with the craft held fast."
    return SheetTable("failsafe", "Failsafe", ("Channel", "Receiver number", *SCALES), tuple(rows), note)


def _modes(setup: Setup) -> SheetTable:
    rows = [
        (f"{n}. {mode.name}", _condition_words(mode.when), mode.voice or "silent", _mode_kind(mode))
        for n, mode in enumerate(setup.modes.values(), start=1)
    ]
    note = "In deciding order: the first whose condition holds is flown."
    return SheetTable("modes", "Flight modes", ("Mode", "When", "Says", "Meant for"), tuple(rows), note)


def _mode_kind(mode: Mode) -> str:
    if mode.aerobatic:
        return "flying inverted too; the motor stays on" if mode.idle_up else "flying inverted too"
    return "idle-up: the motor stays on" if mode.idle_up else "flying upright"


def _curves(setup: Setup) -> Iterator[SheetTable]:
    for curve, users in zip(setup.curves.values(), curve_users(setup).values(), strict=True):
        rows = []
        for n, (x, y) in enumerate(curve.points, start=1):
            us = _scale_cells(setup, output(users[0], y))[2] if len(users) == 1 else ""
            rows.append((str(n), percent(x), percent(y), decimal((y + 100) / 2), us))
        used = f"for {', '.join(c.name for c in users)}" if users else "not used"
        heads = ("Point", "Stick", "Value, -100 to +100", "Value, 0 to 100", "Pulse at the receiver")
        note = f"{sheet_words(curve.smoothing)}; {used}"
        yield SheetTable(f"curve {curve.name}", f"Curve {curve.name}", heads, tuple(rows), note, curve.name)


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


def _condition_row(condition: Condition) -> tuple[str, ...]:
    more = [f"after {_decimal(condition.after)} s without a break"] if condition.after else []
    more += [f"stays {_decimal(condition.stays)} s longer"] if condition.stays else []
    more += [f"then stays on until {_condition_words(condition.until)}"] if condition.until is not None else []
    more += ["changes over each time"] if condition.toggles else []
    return condition.name, _condition_words(condition.when), "; ".join(more)


def _conditions(setup: Setup) -> SheetTable:
    rows = tuple(map(_condition_row, setup.conditions.values()))
    return SheetTable("conditions", "Conditions", ("Condition", "When", "And"), rows)


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
    for atom in atoms_behind(setup, [formula]):
        if isinstance(atom, f.Compare) and atom.name in setup.sensors:
            reads, cells = setup.sensors[atom.name].reads, setup.cells_of(setup.sensors[atom.name])
            if reads == "pack-voltage" and cells:
                yield f"{with_unit(reads, atom.number)} is {decimal(atom.number / cells, 3)} V a cell"


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


def _sensors(setup: Setup) -> SheetTable:
    """What is measured, across what, and where it is seen."""
    rows = []
    for sensor in setup.sensors.values():
        cells = setup.cells_of(sensor) if sensor.reads == "pack-voltage" else None
        across = "" if sensor.reads != "pack-voltage" else f"{cells} cells" if cells else "cells: none in the file"
        shown = "on the screen in flight" if sensor.shown else "not on the screen in flight"
        rows.append((sensor.name, sensor.reads, UNITS.get(sensor.reads, ""), across, shown))
    heads = ("Sensor", "Reads", "Unit", "Across", "Shown")
    return SheetTable("sensors", "Sensors", heads, tuple(rows))
