"""What is told of the thing under the cursor, as Markdown."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.checks import book, cells
from setuplint.decide.decider import Decider
from setuplint.decide.sat import OutOfBudget
from setuplint.formats.charts import shape_of
from setuplint.formats.look import FIXED_SPACE, Look, plain
from setuplint.formats.numbers import decimal, of_hundred, percent, signed
from setuplint.formats.page import page
from setuplint.formats.plot import drawing
from setuplint.graph import uses as graph_uses
from setuplint.server.analysis import Analysis
from setuplint.server.names import Name, is_formula, path_at, positions, value
from setuplint.server.names import at as name_at
from setuplint.setup import formulas as f
from setuplint.setup.formulas import FormulaError, tokens
from setuplint.setup.model import Setup
from setuplint.source import Document, Path, Span

NUMBER_WIDTH = 41  # columns of a curve's drawing


def hover(analysis: Analysis, document: Document, offset: int) -> tuple[str, Span] | None:
    """Markdown, and the part of the text that it is about; None where there is nothing to tell."""
    path = path_at(document, offset)
    if path is not None and path[-1:] == ("rule",) and path[:1] == ("waivers",):
        told = rule(str(value(document.values, path)))
        return (told, document.span(path)) if told else None
    threshold = _threshold(analysis, document, path, offset) if path is not None else None
    if threshold is not None:
        return threshold
    use = name_at(analysis.texts, document, offset)
    if use is None:
        return None
    lines = "\n\n".join(_told(analysis, use.name))
    return (lines, use.span) if lines else None


def rule(name: str) -> str:
    """A rule's page; empty where there is none of that name."""
    if name not in book.rules():
        return ""
    return fenced(page(book.page(name), Look(width=88)))


def fenced(text: str) -> str:
    """Text that is shown as it is."""
    safe = text.replace("```", "'''").rstrip("\n")
    return f"```text\n{safe}\n```"


def _told(analysis: Analysis, name: Name) -> Iterator[str]:
    setup = analysis.setup
    yield f"**{name.kind} {plain(name.word)}**{_about(analysis, name)}"
    users = _users(setup, name)
    if users:
        yield f"used by {', '.join(users)}"
    if name.kind == "curve":
        yield from _curve(setup, name.word)
    if name.kind == "channel":
        yield from _ranges(setup, name.word)


def _about(analysis: Analysis, name: Name) -> str:
    setup, word = analysis.setup, name.word
    if name.kind == "switch" and word in setup.switches:
        switch = setup.switches[word]
        springs = ", springs back to the first" if switch.sprung else ""
        return f": {switch.kind}{springs}; {', '.join(positions(analysis.texts.values, word))}"
    if name.kind == "position":
        return f" of switch {plain(name.of)}"
    if name.kind == "sensor" and word in setup.sensors:
        return f": reads {setup.sensors[word].reads}"
    if name.kind == "override" and word in setup.overrides:
        override = setup.overrides[word]
        beats = [
            o.name
            for o in setup.overrides.values()
            if o.channel == override.channel and _under(o.priority, override.priority)
        ]
        shown = "" if override.value is None else f": {percent(override.value)} on {override.channel}"
        return f"{shown}, beats {', '.join(beats) or 'the channel’s own line'}".replace(FIXED_SPACE, " ")
    if name.kind == "channel" and word in setup.channels:
        channel = setup.channels[word]
        number = "" if channel.number is None else f", number {channel.number}"
        return f": drives {channel.drives}{number}"
    if name.kind == "condition" and word in setup.conditions:
        condition = setup.conditions[word]
        parts = [f"after {decimal(condition.after)} s"] if condition.after else []
        parts += [f"stays {decimal(condition.stays)} s"] if condition.stays else []
        parts += ["latched"] if condition.until is not None else []
        parts += ["toggles"] if condition.toggles else []
        return f": {', '.join(parts)}" if parts else ""
    return ""


def _under(one: Fraction | None, other: Fraction | None) -> bool:
    return one is not None and other is not None and one < other


def _users(setup: Setup, name: Name) -> list[str]:
    node = (name.kind, name.of if name.kind == "position" else name.word)
    found = {user for used, user, _ in graph_uses(setup) if used == node}
    return sorted(f"{kind} {plain(word)}" for kind, word in found)


def _ranges(setup: Setup, channel: str) -> Iterator[str]:
    """The exact least and greatest output, in each mode."""
    found = setup.channels.get(channel)
    if found is None or not found.described:
        return
    decider = Decider(setup)
    rows = []
    try:
        for mode in setup.modes or [""]:
            put = decider.output_range(channel, f.ModeIs(mode) if mode else f.TRUE)
            if put.least is not None and put.greatest is not None:
                where = f"in {mode}: " if mode else ""
                least, most = (_output(found.drives, each) for each in (put.least, put.greatest))
                rows.append(f"- {where}{least}" + ("" if least == most else f" to {most}"))
    except OutOfBudget:
        return
    yield "\n".join(rows)


def _output(drives: str, output: Fraction) -> str:
    text = percent(output) + (f" ({of_hundred(output)})" if drives == "motor" else "")
    return text.replace(FIXED_SPACE, " ")


def _curve(setup: Setup, name: str) -> Iterator[str]:
    """A drawing, and the slope in the middle."""
    curve = setup.curves.get(name)
    if curve is None:
        return
    try:
        shape = shape_of(curve.points, curve.smoothing)
    except ValueError:
        return
    outputs = [shape.value(Fraction(at)) for at in range(-100, 101, 5)]
    yield fenced("\n".join(drawing(outputs, NUMBER_WIDTH)))
    near = Fraction(1, 100)
    slope = (shape.value(near) - shape.value(-near)) / (2 * near)
    yield f"{curve.smoothing} smoothing; {signed(shape.value(Fraction(0)))} at mid-stick, slope {decimal(slope)} there"


def _threshold(analysis: Analysis, document: Document, path: Path, offset: int) -> tuple[str, Span] | None:
    """What a number of a formula means for this pack."""
    text = value(document.values, path)
    if not is_formula(path, text):
        return None
    try:
        found = tokens(text)
    except FormulaError:
        return None
    for name, _, number in zip(found, found[1:], found[2:], strict=False):
        if number.kind == "number" and name.kind == "name":
            span = Span(document.string_offset(path, number.start), document.string_offset(path, number.end))
            if span.start <= offset <= span.end:
                told = volts(analysis.setup, name.text, Fraction(number.text))
                return (told, span) if told else None
    return None


def volts(setup: Setup, sensor: str, number: Fraction) -> str:
    """Volts a cell, and the charge that is left at rest and with the sag of a hover; empty where it is no voltage of the
    pack's."""
    known = setup.sensors.get(sensor)
    battery = setup.battery
    if known is None or known.reads not in ("pack-voltage", "cell-voltage"):
        return ""
    if known.reads == "pack-voltage" and not battery.cells:
        return "`battery.cells` is not given: what this is a cell is not known"
    each = number / (battery.cells or 1) if known.reads == "pack-voltage" else number
    lines = [f"**{decimal(each, 3)} V a cell**"]
    if battery.chemistry is None:
        return lines[0]
    rested = cells.left(battery.chemistry, each)
    lines.append(f"at rest {_share(rested)} of the charge is left")
    if battery.resistance_mohm is not None and battery.hover_current_a is not None and battery.cells:
        sag = battery.resistance_mohm / battery.cells / 1000 * battery.hover_current_a
        loaded = cells.left(battery.chemistry, each + sag)
        lines.append(f"in a hover, with {decimal(sag)} V of sag, {_share(loaded)}")
    return "\n\n".join(lines)


def _share(left: cells.Left) -> str:
    least, most = decimal(left.least, 0), decimal(left.most, 0)
    return f"{least} %" if least == most else f"{least} to {most} %"
