"""What is told of the thing under the cursor, as Markdown. Texts of a set-up may come from strangers: they are escaped."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from setuplint.book import rulebook
from setuplint.book.rule_file import Page, Rule
from setuplint.budget import OutOfBudget
from setuplint.checks import cells
from setuplint.curves.shape import FULL
from setuplint.findings import Finding
from setuplint.formats.markdown_text import escaped
from setuplint.formats.numbers import decimal, motor, percent, pulse, signed
from setuplint.formats.plot import drawing
from setuplint.formats.rule_page import page
from setuplint.formats.terminal import FIXED_SPACE, Look, plain
from setuplint.graph import uses as graph_uses
from setuplint.server import format_schema, names
from setuplint.server.analysis import Reading
from setuplint.server.names import RULE, Name, value, within
from setuplint.server.words import Word, is_formula, words
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup
from setuplint.setup.names import UNITS
from setuplint.setup.smoothings import possible
from setuplint.source import Path, Span

COLUMNS = 41  # of a curve's drawing
WIDTH = 88  # of a rule's page
MOST_USERS = 30
PACK = ("pack-voltage", "cell-voltage")
PREDICATES = {
    "hold called": "the formula of `[intent] hold` holds; without one, never",
    "stop called": "the formula of `[intent] stop` holds; without one, never",
    "rescue called": "the formula of `[intent] rescue` holds; without one, never",
    "motor runs": "a channel that drives a motor puts out more than `craft.motor-off`",
    "rotor driven": "such a channel puts out more than `craft.rotor-free`",
    "flying": "the motor runs and hold is not called",
    "levelled": "the channel of `[intent] level` puts out what levels the craft",
    "lifted": "the channel of `[intent] lift` puts out what lifts it",
    "sprung switches released": "every momentary switch is at its first position",
    "start allowed": "the formula of `[start] requires` holds; without one, always",
}


def hover(
    reading: Reading, findings: Sequence[Finding], offset: int, rules: Mapping[str, Rule] | None = None
) -> tuple[str, Span] | None:
    """Markdown, and the part of the text that it is about; None where there is nothing to tell. `findings` are those that
    are shown at this place, `rules` those by which it is judged."""
    told, span = _told(reading, offset, rules)
    parts = [*told, *(finding_told(finding) for finding in findings)]
    if not parts:
        return None
    return "\n\n".join(parts).replace(FIXED_SPACE, " "), span or Span(offset, offset)


def _told(reading: Reading, offset: int, rules: Mapping[str, Rule] | None) -> tuple[list[str], Span | None]:
    own = reading.own
    path = names.path_at(own, offset)
    if path is not None and is_formula(path):
        found = _in_formula(reading, path, offset)
        if found is not None:
            return found
    use = reading.name_at(offset)
    if use is not None:
        if use.name.kind == RULE:
            return rule(use.name.word, rules), use.span
        return list(_name(reading, use.name)), use.span
    if path is not None:
        for span in (*own.key_spans(path), own.value_span(path)):
            if span is not None and span.start <= offset <= span.end:
                drawn = curve(reading.setup, str(path[1])) if path[0] == "curves" and path[2:3] == ("points",) else ()
                return [*key(path), *drawn], span
    return [], None


def key(path: Path) -> list[str]:
    """What the format says of a key."""
    node = format_schema.at(path)
    said = format_schema.about(node)
    if not said:
        return []
    name = next(step for step in reversed(path) if isinstance(step, str))
    return [f"**{escaped(name)}**: {said}"]


def rule(name: str, rules: Mapping[str, Rule] | None = None) -> list[str]:
    """A rule's page; nothing where there is none of that name. `rules` are those by which a set-up is judged: a club's own among
    them, and ours with the club's limits."""
    if rules is None or name not in rules:
        return [rule_page(rulebook.page(name))] if name in rulebook.rules() else []
    ours = rulebook.page(name) if name in rulebook.rules() else Page(rules[name], (), ())
    return [rule_page(replace(ours, rule=rules[name]))]


def rule_page(found: Page) -> str:
    from setuplint.formats.rule_pages import meaning

    return fenced(page(found, Look(width=WIDTH), meaning(found.rule)))


def fenced(text: str) -> str:
    """Text that is shown as it is."""
    safe = text.replace("```", "'''").rstrip("\n")
    return f"```text\n{safe}\n```"


def finding_told(finding: Finding) -> str:
    """Why a finding matters, and what to do; the message itself is the editor's to show."""
    lines = [f"**{finding.signal}** {escaped(finding.rule)}"]
    if finding.status == "advice":
        lines.append("Advice: a rule of thumb, or reckoned from estimates, and no proof.")
    lines += [f"{escaped(finding.estimate)}"] if finding.estimate else []
    lines += [f"*Why.* {escaped(finding.why)}"] if finding.why else []
    lines += [f"*Remedy.* {escaped(finding.remedy)}"] if finding.remedy else []
    return "\n\n".join(lines)


def _name(reading: Reading, name: Name) -> Iterator[str]:
    setup = reading.setup
    yield f"**{name.kind} {escaped(name.word)}**{''.join(f'; {each}' for each in about(reading, name))}"
    users = _users(setup, name)
    if users:
        more = f" and {len(users) - MOST_USERS} more" if len(users) > MOST_USERS else ""
        yield f"used by {', '.join(map(escaped, users[:MOST_USERS]))}{more}"
    elif name.kind in ("curve", "condition"):
        yield "nothing uses it"
    if name.kind == "curve":
        yield from curve(setup, name.word)
    if name.kind == "channel":
        yield from ranges(reading, name.word)


def about(reading: Reading, name: Name) -> Iterator[str]:
    """What a part is, in a few words each."""
    setup, word = reading.setup, name.word
    if name.kind == "switch" and word in setup.switches:
        switch = setup.switches[word]
        yield switch.kind + (", springs back" if switch.sprung else "")
        yield f"rests at {escaped(switch.positions[0])}, then {', '.join(map(escaped, switch.positions[1:]))}"
        yield from [escaped(switch.place)] if switch.place else []
    elif name.kind == "position":
        yield f"of switch {escaped(name.of)}"
    elif name.kind == "sensor" and word in setup.sensors:
        reads = setup.sensors[word].reads
        yield f"reads {reads}" + (f" in {UNITS[reads]}" if reads in UNITS and reads != "signal-strength" else "")
    elif name.kind in ("stick", "knob") and word in setup.sticks:
        stick = setup.sticks[word]
        yield f"-100 to +100 %, rests at {percent(stick.rest)}"
        if stick.trim is not None:
            yield f"trim up to {decimal(stick.trim)} % either way"
    elif name.kind == "override" and word in setup.overrides:
        yield from _override(reading, word)
    elif name.kind == "channel" and word in setup.channels:
        channel = setup.channels[word]
        yield f"drives {channel.drives}" + (f", number {channel.number}" if channel.number is not None else "")
        rivals = [o for o in setup.overrides.values() if o.channel == word and o.priority is not None]
        rivals.sort(key=lambda o: -(o.priority or Fraction(0)))
        if rivals:
            yield f"taken by {', then '.join(escaped(o.name) for o in rivals)}"
    elif name.kind == "condition" and word in setup.conditions:
        yield from _condition(setup, word)
    elif name.kind == "mode" and word in setup.modes:
        mode = setup.modes[word]
        number = list(setup.modes).index(word) + 1
        yield f"asked {number}. of {len(setup.modes)}: the first whose `when` holds is flown"
        yield from [each for each, on in (("idle-up", mode.idle_up), ("aerobatic", mode.aerobatic)) if on]
    elif name.kind == "alarm" and word in setup.alarms:
        alarm = setup.alarms[word]
        yield f"sounds again every {decimal(alarm.repeat)} s" if alarm.repeat else "sounds once"
    elif name.kind == "timer" and word in setup.timers:
        timer = setup.timers[word]
        minutes, seconds = divmod(timer.seconds, 60)
        yield f"{decimal(timer.seconds)} s" + (f", {minutes} min {decimal(seconds)} s" if minutes else "")
        yield "counts always" if timer.runs is None else "counts while `runs` holds, and keeps its count"


def _override(reading: Reading, word: str) -> Iterator[str]:
    setup = reading.setup
    override = setup.overrides[word]
    if override.value is not None:
        yield f"demands {percent(override.value)} of {escaped(override.channel)}"
    others = [o for o in setup.overrides.values() if o.channel == override.channel and o.name != word]
    mine = override.priority
    if mine is not None:
        for verb, found in (
            ("beats", [o.name for o in others if o.priority is not None and o.priority < mine]),
            ("ties with", [o.name for o in others if o.priority == mine]),
            ("is beaten by", [o.name for o in others if o.priority is not None and o.priority > mine]),
        ):
            if found:
                yield f"{verb} {', '.join(map(escaped, found))}"


def _condition(setup: Setup, word: str) -> Iterator[str]:
    condition = setup.conditions[word]
    if condition.after:
        yield f"only once it has held for {decimal(condition.after)} s"
    if condition.stays:
        yield f"stays on {decimal(condition.stays)} s longer"
    if condition.until is not None:
        yield "stays on until `until` holds"
    if condition.toggles:
        yield "changes over each time"


def _users(setup: Setup, name: Name) -> list[str]:
    node = (name.kind, name.of if name.kind == "position" else name.word)
    if name.kind == "position":
        node = ("switch", name.of)
    found = {user for used, user, _ in graph_uses(setup) if used == node}
    return sorted(f"claim {int(word) + 1}" if kind == "claim" else f"{kind} {word}" for kind, word in found)


def ranges(reading: Reading, channel: str) -> Iterator[str]:
    """The exact least and greatest output over every state, in each mode."""
    setup = reading.setup
    found = setup.channels.get(channel)
    if found is None or not found.described:
        return
    rows = []
    try:
        for mode in setup.modes or [""]:
            put = reading.decider.output_range(channel, f.ModeIs(mode) if mode else f.TRUE)
            if put.least is not None and put.greatest is not None:
                least, most = (_output(reading, found.drives, each) for each in (put.least, put.greatest))
                where = f"in {escaped(mode)}: " if mode else ""
                rows.append(f"- {where}{least}" + ("" if least == most else f" to {most}"))
    except OutOfBudget:
        return
    if rows:
        yield "Over every state of the controls it gives\n\n" + "\n".join(rows)


def _output(reading: Reading, drives: str, output: Fraction) -> str:
    return motor(reading.texts.values, output) if drives == "motor" else percent(output)


def curve(setup: Setup, name: str) -> Iterator[str]:
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
    yield fenced("\n".join(drawing(outputs, COLUMNS)))
    smooth = {"none": "straight between its points", "unknown": f"smoothed, drawn as {possible('unknown')[0]}"}
    hovers = list(_hovers(setup, name))
    yield "; ".join([smooth.get(found.smoothing, f"{found.smoothing} smoothing"), *hovers])


def _hovers(setup: Setup, name: str) -> Iterator[str]:
    """Where the craft hovers on a curve, and how steep its channel is there, in each mode."""
    from setuplint.pages.curve_charts import channel_charts
    from setuplint.server.softening import NEAR, through

    found: list[tuple[str, str]] = []
    for chart, curves in channel_charts(setup):
        for line in chart.lines if name in curves else ():
            if line.hover is None or not through(line.flown.channel, line.name, name):
                continue
            at, output, _ = line.hover
            sides = ((max(at - NEAR, -FULL), at), (at, min(at + NEAR, FULL)))
            slopes = [decimal(line.flown.slopes(low, high)[1][1]) for low, high in sides if low < high]
            slope = slopes[0] if len(set(slopes)) == 1 else f"{slopes[0]} below and {slopes[1]} above"
            said = f"hovers at {signed(output)} with the stick at {percent(at)}, slope {slope} there"
            found.append((line.name, said))
    for modes, said in found:
        yield f"in {escaped(modes)} it {said}" if len(found) > 1 else said


def _in_formula(reading: Reading, path: Path, offset: int) -> tuple[list[str], Span] | None:
    """What a threshold means; a position with its switch."""
    text = value(reading.own.values, path)
    if not isinstance(text, str):
        return None
    found = list(words(text))
    for name, sign, number in zip(found, found[1:], found[2:], strict=False):
        if name.role not in ("control", "channel") or sign.role != "operator" or number.role != "number":
            continue
        span = within(reading.own, path, number.start, number.end)
        if span.start <= offset <= span.end:
            told = threshold(reading, name.role, name.text, Fraction(number.text))
            return (told, span) if told else None
    return _predicate(reading, path, found, offset)


def _predicate(reading: Reading, path: Path, found: Sequence[Word], offset: int) -> tuple[list[str], Span] | None:
    for phrase, means in PREDICATES.items():
        count = len(phrase.split())
        for n in range(len(found) - count + 1):
            part = found[n : n + count]
            if " ".join(w.text for w in part) == phrase and part[0].role == "predicate":
                span = within(reading.own, path, part[0].start, part[-1].end)
                if span.start <= offset <= span.end:
                    return [f"**{phrase}**: {means}"], span
    return None


def threshold(reading: Reading, role: str, name: str, number: Fraction) -> list[str]:
    """What a number that a control, sensor or output is compared with means."""
    setup = reading.setup
    if role == "channel":
        channel, values = setup.channels.get(name), reading.texts.values
        if channel is None:
            return []
        pulsed = f"{percent(number)} ({decimal(pulse(values, number))} µs)"
        return [f"{motor(values, number) if channel.drives == 'motor' else pulsed} of {escaped(name)}"]
    sensor = setup.sensors.get(name)
    if sensor is None:
        return [f"{signed(number)} % of the travel of {escaped(name)}"] if name in setup.sticks else []
    if sensor.reads in PACK:
        return list(volts(setup, name, number))
    unit = UNITS.get(sensor.reads, "")
    return [f"{decimal(number, 6)} {unit}, as {escaped(plain(name))} reads {sensor.reads}"]


def volts(setup: Setup, sensor: str, number: Fraction) -> Iterator[str]:
    """Volts a cell, the charge that is left at rest and with the sag of a hover, and where the floor is."""
    battery = setup.battery
    pack = setup.sensors[sensor].reads == "pack-voltage"
    if pack and not battery.cells:
        yield "`battery.cells` is not given: what this is a cell is not known"
        return
    each = number / (battery.cells or 1) if pack else number
    whole = f", {decimal(each * battery.cells, 3)} V for this pack of {battery.cells}" if battery.cells else ""
    yield f"**{decimal(each, 3)} V a cell**{whole}"
    if battery.chemistry is None:
        yield "`battery.chemistry` is not given: what is left then is not known"
        return
    yield f"at rest {_share(cells.left(battery.chemistry, each))} of the charge is left"
    if battery.resistance_mohm is not None and battery.hover_current_a is not None and battery.cells:
        sag = battery.resistance_mohm / battery.cells / 1000 * battery.hover_current_a
        loaded = cells.left(battery.chemistry, each + sag)
        yield f"in a hover, where the current takes {decimal(sag)} V of it, {_share(loaded)} (reckoned, no proof)"
    least = rulebook.rules()["voltage-alarm-below-floor"].limits.get(f"floor-{battery.chemistry}")
    if least is not None:
        side = "at" if each == least.value else "under" if each < least.value else "over"
        yield f"{side} the floor of a loaded cell, {decimal(least.value, 3)} V"


def _share(left: cells.Left) -> str:
    least, most = decimal(left.least, 0), decimal(left.most, 0)
    return f"{least} %" if least == most else f"{least} to {most} %"
