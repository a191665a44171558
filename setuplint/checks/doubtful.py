"""Numbers that would be right on another scale, or in another unit."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import WHOLE_FILE, Asking, both_scales, plain
from setuplint.checks.charge import charge_sensors, growing_comparisons, listeners
from setuplint.checks.curve_shapes import UNCALLED
from setuplint.checks.failsafe import channel_entries
from setuplint.checks.trial import what_is_told
from setuplint.dataclass import replace
from setuplint.findings import Edit, Finding, Place
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Line, Path, Setup, Term
from setuplint.setup.states import placed_formulas

MOST_SHOWN = 12


class Number(NamedTuple):
    """A number of the file for a motor's output."""

    path: Path
    value: Fraction


def motor_off_doubtful(ask: Asking) -> Iterator[Finding]:
    """motor-off contradicts the file, or is no place where a motor stays stopped in practice."""
    craft = ask.setup.craft
    off = craft.motor_off
    if off is None or ask.said("scale-doubtful"):
        ask.unread("craft", "motor-off")
        return
    why = next(contradictions(ask, off), None)
    engine = ask.setup.is_engine or not ask.setup.is_power_known
    highest = ask.limit("highest-engine" if engine else "highest")
    meant = "did you mean -100, which a scale of 0 to 100 shows as 0?"
    meant += f" {plain(off):g} there is {plain(2 * off - 100):g} here" if off >= 0 else ""
    if why is None and off > highest:
        why = Place(("craft", "motor-off")), f"above {plain(highest):g}, where motors turn in practice; {meant}"
    if why is None:
        if off > ask.limit("highest"):
            ask.unread("craft", "power")
        return
    related, words = why
    yield ask.finding(
        "motor-off",
        f"motor-off is {both_scales(off)}, {words}",
        ("craft", "motor-off"),
        related=[] if related.path == ("craft", "motor-off") else [related],
        edit=Edit(("craft", "motor-off"), "-100") if off == 0 else None,
    )


def contradictions(ask: Asking, off: Fraction) -> Iterator[tuple[Place, str]]:
    """What in the file says that the motor turns at motor-off."""
    craft = ask.setup.craft
    for key, value in (("hover-throttle", craft.hover_throttle), ("governed-above", craft.governed_above)):
        ask.unread("craft", key)
        if value is not None and off >= value:
            yield Place(("craft", key), "the motor turns here"), f"at or above {key} ({both_scales(value)})"
    for motor in ask.driving("motor"):
        own = f.both(UNCALLED, f.Decides(motor.name, None))
        if not ask.possible(own, motor.name):
            continue
        above = ask.answer(f.both(own, f.OutputCompare(motor.name, ">", off)))
        if above.impossible:
            yield Place(("channels", motor.name), "its lines"), f"and no line of {motor.name} ever puts out more"
        elif not above.found:
            ask.note(above, motor.name)


def scale_doubtful(ask: Asking) -> Iterator[Finding]:
    """Every number that the file gives for a motor's output lies from 0 to 100, and one of them is 0."""
    numbers = [number for number in motor_numbers(ask) if number.path]
    values = [number.value for number in numbers]
    if not values or min(values) != 0 or max(values) > 100:
        return
    shown = ", ".join(f"{'.'.join(map(str, n.path))} {plain(n.value):g} to {plain(2 * n.value - 100):g}"
                      for n in numbers[:MOST_SHOWN])  # fmt: skip
    more = f", and {len(numbers) - MOST_SHOWN} more" if len(numbers) > MOST_SHOWN else ""
    yield ask.finding(
        WHOLE_FILE,
        "every number for the motor lies from 0 to 100, as on a transmitter that shows the motor from 0 to 100; here -100 "
        f"is stopped and 0 is half throttle. On this scale: {shown}{more}{left_over(ask)}",
        numbers[0].path,
        related=[Place(number.path) for number in numbers[1:MOST_SHOWN]],
    )


def left_over(ask: Asking) -> str:
    """The dangers that would be there with the numbers on this scale too, in words: another cause, which is not silent."""
    there = on_this_scale(ask.setup)
    then = replace(ask, setup=there, decider=ask.decider.of_variant(there))
    waiting = [r for r in ask.book.values() if ask.rule.name in r.said_by and r.signal == "danger"]
    found = [f"{rule.name} ({', '.join(sorted(told))})" for rule in waiting if (told := what_is_told(then, rule)[0])]
    return f". With these, too, there would be dangers: {', '.join(found)}" if found else ""


def on_this_scale(setup: Setup) -> Setup:
    """The setup with every number for a motor's output taken for one of a scale of 0 to 100."""
    motors = {channel.name: channel for channel in setup.driving("motor")}

    def own(line: Line) -> Line:
        return line if not line.terms else replace(line, terms=(own_term(line.terms[0]), *line.terms[1:]))

    curves = {name: replace(setup.curves[name], points=tuple((x, 2 * y - 100) for x, y in setup.curves[name].points))
              for channel in motors.values() for name in (t.curve for t in channel.terms) if name is not None}  # fmt: skip
    overrides = {
        o.name: replace(o, **{key.replace("-", "_"): 2 * x - 100 for key, x in o.numbers.items()})  # type: ignore[arg-type]
        for o in setup.overrides.values()
        if o.channel in motors
    }
    failsafe = {name: 2 * value - 100 if name in motors and isinstance(value, Fraction) else value
                for name, value in (setup.failsafe or {}).items()}  # fmt: skip
    off, free = setup.craft.motor_off, setup.craft.rotor_free
    return replace(
        setup,
        craft=replace(
            setup.craft,
            motor_off=None if off is None else 2 * off - 100,
            rotor_free=free if free is None or free < 0 else 2 * free - 100,
        ),
        curves={**setup.curves, **curves},
        channels={**setup.channels, **{name: channel.with_lines(own) for name, channel in motors.items()}},
        overrides={**setup.overrides, **overrides},
        failsafe=setup.failsafe if setup.failsafe is None else failsafe,
    )


def own_term(term: Term) -> Term:
    if isinstance(term.source, Fraction):
        return replace(term, source=2 * term.source - 100)
    return replace(term, values={position: 2 * x - 100 for position, x in term.values.items()})


def line_numbers(setup: Setup, channel: Channel) -> Iterator[Number]:
    """What the lines of a channel put out by themselves: fixed numbers, and those of a switch's positions."""
    start: Path = ("channels", channel.name)
    for path, line in [(start, channel.own), *(((*start, "in", mode), x) for mode, x in channel.lines.items())]:
        for term in (line.terms or ())[:1]:
            given: dict[Path, Fraction] = {(*path, "values", at): x for at, x in term.values.items()}
            if isinstance(term.source, Fraction):
                given = {(*path, "from"): term.source}
            yield from (Number(at, x) for at, x in given.items() if at in setup.declared)  # a mode's own, not inherited


def motor_numbers(ask: Asking) -> Iterator[Number]:
    """The points of motors' curves, what their lines give without one, the numbers of overrides on motors, the failsafe of
    motors, and motor-off."""
    setup = ask.setup
    motors = [channel.name for channel in ask.motors]
    for name in dict.fromkeys(t.curve for channel in ask.motors for t in channel.terms if t.curve is not None):
        for index, (_, y) in enumerate(setup.curves[name].points):
            yield Number(("curves", name, "points", index), y)
    for channel in ask.motors:
        yield from line_numbers(setup, channel)
    for override in setup.overrides.values():
        if override.channel in motors:
            yield from (Number(("overrides", override.name, key), x) for key, x in override.numbers.items())
    for motor, value in channel_entries(ask, "motor"):
        if isinstance(value, Fraction):
            yield Number(("failsafe", motor.name), value)
    if setup.craft.motor_off is not None:
        yield Number(("craft", "motor-off"), setup.craft.motor_off)


def value_doubtful(ask: Asking) -> Iterator[Finding]:
    """A number that is right in another unit."""
    thresholds = [*charge_doubts(ask), *temperature_doubts(ask)]
    for path, message in [*battery_doubts(ask), *timer_doubts(ask), *thresholds, *pulse_doubts(ask)]:
        yield ask.finding(".".join(map(str, path)), message, path)


def battery_doubts(ask: Asking) -> Iterator[tuple[Path, str]]:
    battery = ask.setup.battery
    capacity, resistance = battery.capacity_mah, battery.resistance_mohm
    if capacity is not None and capacity < ask.limit("capacity"):
        words = f"{plain(capacity):g} mAh is hardly a pack: {plain(capacity):g} Ah are {plain(1000 * capacity):g} mAh"
        yield ("battery", "capacity-mah"), words
    if resistance is not None and resistance < ask.limit("resistance"):
        ohms = f"{plain(resistance):g} Ω are {plain(1000 * resistance):g} mΩ"
        words = ohms if resistance else "leave the key out until it is measured"
        yield ("battery", "resistance-mohm"), f"{plain(resistance):g} mΩ is less than any pack has: {words}"
    for key, amps in (("hover-current-a", battery.hover_current_a), ("peak-current-a", battery.peak_current_a)):
        small = capacity is not None and capacity < ask.limit("small-pack")
        if amps is not None and capacity is not None and small and amps > ask.limit("current"):
            words = f"{plain(amps):g} A out of {plain(capacity):g} mAh: {plain(amps):g} mA are {plain(amps / 1000):g} A"
            yield ("battery", key), words


def timer_doubts(ask: Asking) -> Iterator[tuple[Path, str]]:
    flying = f.Predicate("flying")
    for timer in ask.setup.timers.values():
        runs = f.TRUE if timer.runs is None else timer.runs
        if timer.seconds < ask.limit("timer") and ask.possible(f.both(flying, runs), timer.name):
            minutes = plain(60 * timer.seconds)
            yield (
                ("timers", timer.name, "seconds"),
                f"{plain(timer.seconds):g} s is no flight: as minutes it is {minutes:g} s",
            )


def charge_doubts(ask: Asking) -> Iterator[tuple[Path, str]]:
    """An alarm from a few mAh on, which as Ah would be a good part of the pack."""
    capacity = ask.setup.battery.capacity_mah
    if capacity is None:
        return
    for sensor in charge_sensors(ask):
        growing = growing_comparisons(ask, listeners(ask, sensor), sensor)
        for atom, path in dict.fromkeys((each.atom, each.path) for each in growing):
            if atom.number < ask.limit("capacity") and capacity / 2 <= 1000 * atom.number <= capacity:
                number = plain(atom.number)
                yield path, f"{sensor.name} from {number:g} mAh on: {number:g} Ah are {plain(1000 * atom.number):g} mAh"


def temperature_doubts(ask: Asking) -> Iterator[tuple[Path, str]]:
    setup = ask.setup
    if setup.is_engine:  # an exhaust may be as hot
        return
    hot = {sensor.name for sensor in setup.sensors.values() if sensor.reads == "temperature"}
    for path, formula in placed_formulas(setup) if hot else ():
        for atom in f.atoms(formula):
            if isinstance(atom, f.Compare) and atom.name in hot and atom.number > ask.limit("temperature"):
                if ask.unread("craft", "power"):
                    return
                celsius = round((atom.number - 32) * 5 / 9)
                yield path, f"{atom.name} at {plain(atom.number):g} °C: {plain(atom.number):g} °F are {celsius} °C"


def pulse_doubts(ask: Asking) -> Iterator[tuple[Path, str]]:
    craft = ask.setup.craft
    ends = [craft.pulse(Fraction(x)) for x in (-100, 100)]
    if min(ends) < ask.limit("pulse-least") or max(ends) > ask.limit("pulse-most"):
        low, high = (f"{plain(end):g}" for end in ends)
        words = f"outputs of -100 and +100 % would be pulses of {low} and {high} µs; 1000 and 2000 are usual"
        yield ("craft", "pulse"), words
