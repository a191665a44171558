"""What hovers show of the parts of a setup: what a part is and what uses it, a curve, an output's range, a threshold."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

from setuplint.book import rulebook
from setuplint.budget import OutOfBudget
from setuplint.checks import cells
from setuplint.curves.shape import FULL
from setuplint.formats.markdown_text import escaped
from setuplint.formats.numbers import decimal, motor_output, percent, pulse, signed
from setuplint.formats.plot import plot_lines
from setuplint.formats.terminal import plain
from setuplint.graph import uses
from setuplint.server.occurrences import Name
from setuplint.server.parsed import ParsedText
from setuplint.setup import formulas as f
from setuplint.setup.model import (
    Alarm,
    Battery,
    Channel,
    Condition,
    Mode,
    Override,
    Sensor,
    Setup,
    Stick,
    Switch,
    Timer,
)
from setuplint.setup.names import UNITS
from setuplint.setup.smoothings import possible

COLUMNS = 41  # of a curve's drawing
MOST_USERS = 30
PACK = ("pack-voltage", "cell-voltage")
SMOOTHINGS = {"none": "straight between its points", "unknown": f"smoothed, drawn as {possible('unknown')[0]}"}


def name_markdown(parsed: ParsedText, name: Name) -> Iterator[str]:
    setup = parsed.setup
    yield f"**{name.kind} {escaped(name.word)}**{''.join(f'; {each}' for each in part_facts(setup, name))}"
    users = _users(setup, name)
    if users:
        more = f" and {len(users) - MOST_USERS} more" if len(users) > MOST_USERS else ""
        yield f"used by {', '.join(map(escaped, users[:MOST_USERS]))}{more}"
    elif name.kind in ("curve", "condition"):
        yield "nothing uses it"
    if name.kind == "curve":
        yield from curve_markdown(setup, name.word)
    if name.kind == "channel":
        yield from range_markdown(parsed, name.word)


def _users(setup: Setup, name: Name) -> list[str]:
    node = ("switch", name.of) if name.kind == "position" else (name.kind, name.word)
    found = {user for used, user, _ in uses(setup) if used == node}
    return sorted(f"claim {int(word) + 1}" if kind == "claim" else f"{kind} {word}" for kind, word in found)


def part_facts(setup: Setup, name: Name) -> Iterator[str]:
    """What a part is, a few words each."""
    if name.kind == "position":
        yield f"of switch {escaped(name.of)}"
        return
    table, facts = FACTS.get(name.kind, ("", None))
    part = getattr(setup, table).get(name.word) if facts is not None else None
    if facts is not None and part is not None:
        yield from facts(setup, part)


def _switch_facts(setup: Setup, switch: Switch) -> Iterator[str]:
    yield switch.kind + (", springs back" if switch.sprung else "")
    yield f"rests at {escaped(switch.positions[0])}, then {', '.join(map(escaped, switch.positions[1:]))}"
    if switch.place:
        yield escaped(switch.place)


def _sensor_facts(setup: Setup, sensor: Sensor) -> Iterator[str]:
    has_unit = sensor.reads in UNITS and sensor.reads != "signal-strength"
    yield from [f"stands across {sensor.cells} cells of the pack"] if sensor.cells is not None else []
    yield f"reads {sensor.reads}" + (f" in {UNITS[sensor.reads]}" if has_unit else "")


def _stick_facts(setup: Setup, stick: Stick) -> Iterator[str]:
    yield f"-100 to +100 %, rests at {percent(stick.rest)}"
    if stick.trim is not None:
        yield f"trim up to {decimal(stick.trim)} % either way"


def _override_facts(setup: Setup, override: Override) -> Iterator[str]:
    if override.limits:
        yield f"keeps {escaped(override.channel)} at {override.words(percent)}; the sticks go on between"
    elif override.numbers:
        yield f"demands {override.words(percent)} of {escaped(override.channel)}"
    mine = override.priority
    if mine is None:
        return
    others = [o for o in setup.acting_on(override.channel) if o.name != override.name]
    known = [(o.name, o.priority) for o in others if o.priority is not None]
    for verb, names in (
        ("beats", [name for name, priority in known if priority < mine]),
        ("ties with", [name for name, priority in known if priority == mine]),
        ("is beaten by", [name for name, priority in known if priority > mine]),
    ):
        if names:
            yield f"{verb} {', '.join(map(escaped, names))}"


def _channel_facts(setup: Setup, channel: Channel) -> Iterator[str]:
    yield f"drives {channel.drives}" + (f", number {channel.number}" if channel.number is not None else "")
    overrides = [o for o in setup.acting_on(channel.name) if o.priority is not None]
    overrides.sort(key=lambda o: -(o.priority or Fraction(0)))
    if overrides:
        yield f"taken by {', then '.join(escaped(o.name) for o in overrides)}"


def _condition_facts(setup: Setup, condition: Condition) -> Iterator[str]:
    if condition.after:
        yield f"only once it has held for {decimal(condition.after)} s"
    if condition.stays:
        yield f"stays on {decimal(condition.stays)} s longer"
    if condition.until is not None:
        yield "stays on until `until` holds"
    if condition.toggles:
        yield "changes over each time"


def _mode_facts(setup: Setup, mode: Mode) -> Iterator[str]:
    number = list(setup.modes).index(mode.name) + 1
    yield f"asked {number}. of {len(setup.modes)}: the first whose `when` holds is flown"
    yield from [each for each, on in (("idle-up", mode.idle_up), ("aerobatic", mode.aerobatic)) if on]


def _alarm_facts(setup: Setup, alarm: Alarm) -> Iterator[str]:
    yield f"sounds again every {decimal(alarm.repeat)} s" if alarm.repeat else "sounds once"


def _timer_facts(setup: Setup, timer: Timer) -> Iterator[str]:
    minutes, seconds = divmod(timer.seconds, 60)
    yield f"{decimal(timer.seconds)} s" + (f", {minutes} min {decimal(seconds)} s" if minutes else "")
    yield "counts always" if timer.runs is None else "counts while `runs` holds, and keeps its count"


def _pack_facts(setup: Setup, pack: Battery) -> Iterator[str]:
    yield from [f"{pack.cells} cells"] if pack.cells is not None else []
    yield from [f"{decimal(pack.capacity_mah)} mAh"] if pack.capacity_mah is not None else []
    yield "every rule about the pack is judged with it too"


FACTS: dict[str, tuple[str, Callable[[Setup, Any], Iterator[str]]]] = {
    "switch": ("switches", _switch_facts),
    "sensor": ("sensors", _sensor_facts),
    "stick": ("sticks", _stick_facts),
    "knob": ("sticks", _stick_facts),
    "override": ("overrides", _override_facts),
    "channel": ("channels", _channel_facts),
    "condition": ("conditions", _condition_facts),
    "mode": ("modes", _mode_facts),
    "alarm": ("alarms", _alarm_facts),
    "timer": ("timers", _timer_facts),
    "pack": ("packs", _pack_facts),
}
"""By kind: where a setup has the parts, and what is said of one."""


def range_markdown(parsed: ParsedText, channel: str) -> Iterator[str]:
    """The exact least and greatest output over every state, in each mode."""
    setup = parsed.setup
    found = setup.channels.get(channel)
    if found is None or not found.described:
        return
    rows = []
    try:
        for mode in setup.modes or [""]:
            outputs = parsed.decider.output_range(channel, f.ModeIs(mode) if mode else f.TRUE)
            if outputs.least is not None and outputs.greatest is not None:
                ends = (outputs.least, outputs.greatest)
                least, most = (_output_words(parsed, found.drives, each) for each in ends)
                where = f"in {escaped(mode)}: " if mode else ""
                rows.append(f"- {where}{least}" + ("" if least == most else f" to {most}"))
    except OutOfBudget:
        return
    if rows:
        yield "Over every state of the controls it gives\n\n" + "\n".join(rows)


def _output_words(parsed: ParsedText, drives: str, output: Fraction) -> str:
    return motor_output(parsed.texts.values, output) if drives == "motor" else percent(output)


def curve_markdown(setup: Setup, name: str) -> Iterator[str]:
    """A drawing of a curve by itself, then its slope where the craft hovers on it."""
    from setuplint.pages.charts import shape_of

    found = setup.curves.get(name)
    if found is None:
        return
    try:
        shape = shape_of(found.points, found.smoothing)
    except ValueError:
        return
    outputs = [shape.value(Fraction(at)) for at in range(-100, 101, 5)]
    yield fenced("\n".join(plot_lines(outputs, COLUMNS)))
    yield "; ".join([SMOOTHINGS.get(found.smoothing, f"{found.smoothing} smoothing"), *_hovers(setup, name)])


def _hovers(setup: Setup, name: str) -> Iterator[str]:
    """Where the craft hovers on a curve, and how steep its channel is there, in each mode."""
    from setuplint.pages.curve_charts import channel_charts
    from setuplint.pages.softening import NEAR, uses_curve

    found: list[tuple[str, str]] = []
    for chart, curves in channel_charts(setup):
        for line in chart.lines if name in curves else ():
            if line.hover is None or not uses_curve(line.flown.channel, line.name, name):
                continue
            at, output, _ = line.hover
            sides = ((max(at - NEAR, -FULL), at), (at, min(at + NEAR, FULL)))
            slopes = [decimal(line.flown.slopes(low, high)[1][1]) for low, high in sides if low < high]
            slope = slopes[0] if len(set(slopes)) == 1 else f"{slopes[0]} below and {slopes[1]} above"
            words = f"hovers at {signed(output)} with the stick at {percent(at)}, slope {slope} there"
            found.append((line.name, words))
    for modes, words in found:
        yield f"in {escaped(modes)} it {words}" if len(found) > 1 else words


def threshold_markdown(parsed: ParsedText, role: str, name: str, number: Fraction) -> list[str]:
    """What a number means that a control, sensor or output is compared with."""
    setup = parsed.setup
    if role == "channel":
        channel, values = setup.channels.get(name), parsed.texts.values
        if channel is None:
            return []
        in_microseconds = f"{percent(number)} ({decimal(pulse(values, number))} µs)"
        return [f"{motor_output(values, number) if channel.drives == 'motor' else in_microseconds} of {escaped(name)}"]
    sensor = setup.sensors.get(name)
    if sensor is None:
        return [f"{signed(number)} % of the travel of {escaped(name)}"] if name in setup.sticks else []
    if sensor.reads in PACK:
        return list(voltage_markdown(setup, name, number))
    unit = UNITS.get(sensor.reads, "")
    return [f"{decimal(number, 6)} {unit}, as {escaped(plain(name))} reads {sensor.reads}"]


def voltage_markdown(setup: Setup, sensor: str, number: Fraction) -> Iterator[str]:
    """Volts a cell, the charge that is left at rest and in a hover, and where the floor is."""
    battery = setup.battery
    count = setup.cells_of(setup.sensors[sensor])
    if count is None:
        yield "`battery.cells` is not given: what this is a cell is not known"
        return
    each = number / count
    pack = f", {decimal(each * battery.cells, 3)} V for this pack of {battery.cells}" if battery.cells else ""
    yield f"**{decimal(each, 3)} V a cell**{pack}"
    if battery.chemistry is None:
        yield "`battery.chemistry` is not given: what is left then is not known"
        return
    yield f"at rest {_charge_words(cells.charge_left(battery.chemistry, each))} of the charge is left"
    if battery.resistance_mohm is not None and battery.hover_current_a is not None and battery.cells:
        sag = battery.resistance_mohm / battery.cells / 1000 * battery.hover_current_a
        loaded = _charge_words(cells.charge_left(battery.chemistry, each + sag))
        yield f"in a hover, where the current takes {decimal(sag)} V of it, {loaded} (an estimate, not a proof)"
    least = rulebook.rules()["voltage-alarm-below-floor"].limits.get(f"floor-{battery.chemistry}")
    if least is not None:
        side = "at" if each == least.value else "under" if each < least.value else "over"
        yield f"{side} the floor of a loaded cell, {decimal(least.value, 3)} V"


def _charge_words(left: cells.ChargeLeft) -> str:
    least, most = decimal(left.least, 0), decimal(left.most, 0)
    return f"{least} %" if least == most else f"{least} to {most} %"


def fenced(text: str) -> str:
    """Text that Markdown shows as it is."""
    safe = text.replace("```", "'''").rstrip("\n")
    return f"```text\n{safe}\n```"
