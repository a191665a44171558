"""The report of one set-up as a page: verdict, findings with their cases, curves, battery, who takes what, and an explorer."""

from __future__ import annotations

import json
from collections.abc import Iterator
from fractions import Fraction

from setuplint.decide import lines
from setuplint.decide.curves import FULL
from setuplint.decide.decider import Decider
from setuplint.decide.flown import Flown
from setuplint.decide.sat import OutOfBudget
from setuplint.findings import SIGNALS, Finding, Report
from setuplint.formats import bench, charts, explorer
from setuplint.formats.excerpt import excerpt
from setuplint.formats.html import asset, page, table, tag, text
from setuplint.formats.look import Look
from setuplint.formats.numbers import decimal, of_hundred, percent
from setuplint.formats.override_map import override_map
from setuplint.formats.steps import outputs_on_the_way
from setuplint.formats.summary import CAUTION
from setuplint.formats.text import counted
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Channel, Setup
from setuplint.setup.model import Line as Described

RULE_OF_FLOORS = "voltage-alarm-below-floor"


def report_page(report: Report, setup: Setup) -> str:
    """The whole page, for the set-up that the report is of."""
    parts = [
        _head(report, setup),
        _section("findings", "Findings", _findings(report)),
        _section("explorer", "Try a state", EXPLORER, hidden=True),
        _section("curves", "Curves", _curves(setup)),
        _section("battery", "Battery", _battery(setup)),
        _section("overrides", "Who can take which channel", _overrides(setup)),
        _section("channels", "What each channel puts out", _channels(setup)),
        _section("decided", "What was decided", _decided(report)),
    ]
    body = tag("main", "\n".join(filter(None, parts))) + tag("footer", tag("p", text(CAUTION)))
    data = {"model": explorer.model(setup), "cases": [explorer.steps(each) for each in report.findings]}
    return page(f"{setup.craft.name}: report", body, data=json.dumps(data), script=asset("explorer.js"))


def _section(name: str, title: str, inside: str, *, hidden: bool = False) -> str:
    if not inside:
        return ""
    return tag(
        "section", f"{tag('h2', text(title))}\n{inside}", id=name, hidden=hidden, tabindex="-1" if hidden else None
    )


def verdict(report: Report) -> str:
    """`2 dangers, 1 notice`, or that nothing was found."""
    counts = {signal: sum(each.signal == signal for each in report.findings) for signal in SIGNALS}
    found = [
        tag("strong", text(counted(count, signal)), class_=f"signal {signal}")
        for signal, count in counts.items()
        if count
    ]
    return ", ".join(found) or tag("strong", "Nothing found", class_="signal good")


def _head(report: Report, setup: Setup) -> str:
    links = [("findings", "Findings"), ("curves", "Curves"), ("battery", "Battery"), ("overrides", "Overrides")]
    links += [("channels", "Channels"), ("decided", "What was decided")]
    there = [
        ("explorer", "Try a state", "script"),
        *((name, label, None) for name, label in links if _there(name, setup)),
    ]
    items = "".join(
        tag("li", tag("a", text(label), href=f"#{name}"), class_=kind, hidden=kind is not None)
        for name, label, kind in there
    )
    return (
        tag("header", tag("h1", text(setup.craft.name)) + tag("p", f"{tag('code', text(report.name))}", class_="soft"))
        + tag("p", verdict(report), class_="verdict")
        + tag("p", text(CAUTION), class_="careful")
        + tag("nav", tag("ul", items), aria_label="On this page")
    )


def _there(name: str, setup: Setup) -> bool:
    return {"curves": bool(setup.curves), "battery": bool(_marks(setup)), "overrides": bool(setup.overrides)}.get(
        name, True
    )


# -- findings


def _findings(report: Report) -> str:
    if not report.findings:
        return tag("p", "No rule speaks.")
    return "\n".join(_finding(report, finding, n) for n, finding in enumerate(report.findings))


def _finding(report: Report, finding: Finding, number: int) -> str:
    where = report.where(finding.primary)
    line, column = where.start
    head = tag("span", text(finding.signal), class_="signal") + text(finding.message)
    quoted = "\n".join(excerpt(report, finding, Look(width=100)))
    about = [("On the bench", text(bench.sentence(finding, report.values)) + _steps(report, finding))]
    if finding.status == "advice":
        about.append(("Advice", "a rule of thumb, or reckoned from estimates: not a proof."))
    about += [
        ("Reckoned", text(finding.estimate)),
        ("Why", text(_flat(finding.why))),
        ("Remedy", text(_flat(finding.remedy))),
    ]
    told = "".join(tag("dt", label) + tag("dd", words) for label, words in about if words)
    shown = finding.witness or finding.steps
    button = (
        tag("button", "Try this case", class_="show", type="button", data_finding=number, hidden=True) if shown else ""
    )
    return tag(
        "article",
        f"{tag('h3', head)}\n"
        f"{tag('p', tag('code', text(f'{where.name}:{line}:{column}')) + ' ' + text(finding.rule), class_='soft')}\n"
        f"{tag('pre', text_lines(quoted), tabindex='0') if quoted else ''}\n{tag('dl', told)}\n{button}",
        class_=f"finding {finding.signal}",
        id=f"finding-{number + 1}",
    )


def text_lines(lines: str) -> str:
    return "\n".join(text(line) for line in lines.split("\n"))


def _flat(words: str) -> str:
    return " ".join(words.split())


def _steps(report: Report, finding: Finding) -> str:
    if not finding.steps:
        return ""
    steps = bench.steps(finding, report.values, outputs_on_the_way(report, finding))
    return tag(
        "ol", "".join(tag("li", text(": ".join(filter(None, (step.move, ", ".join(step.gives)))))) for step in steps)
    )


# -- curves


def _curves(setup: Setup) -> str:
    figures = [_channel_figure(setup, channel) for channel in setup.channels.values()]
    used = {t.curve for c in setup.channels.values() for line in (c.own, *c.lines.values()) for t in line.terms or ()}
    figures += [_curve_figure(setup, name) for name in setup.curves if name not in used]
    return tag("div", "\n".join(filter(None, figures)), class_="charts")


def _channel_figure(setup: Setup, channel: Channel) -> str:
    """The lines of a channel that go through a curve, one colour a mode; lines that are the same are one."""
    found: list[charts.Line] = []
    stick = ""
    for mode in [*setup.modes, None] if not setup.modes else setup.modes:
        line = channel.line(mode)
        bent = [term for term in line.terms or () if term.curve is not None]
        if len(bent) != 1:
            continue
        drawn = _line(setup, channel, line, mode or "")
        if drawn is not None:
            stick = str(bent[0].source)
            twin = next((n for n, each in enumerate(found) if each.flown == drawn.flown), None)
            if twin is None:
                found.append(drawn)
            else:
                name = f"{found[twin].name}, {drawn.name}"
                found[twin] = charts.Line(name, drawn.flown, drawn.points, found[twin].hover)
    if not found:
        return ""
    title = f"{channel.name} over {stick}"
    keys = "".join(
        tag("span", "", class_=f"key k{n % charts.COLOURS}") + text(line.name or "output")
        for n, line in enumerate(found)
    )
    hovers = "".join(tag("br") + text(_hovering(line)) for line in found if line.hover)
    names = sorted({t.curve for m in (*setup.modes, None) for t in channel.line(m).terms or () if t.curve is not None})
    smooth = ", ".join(f"{name}: {_smoothing(setup, name)}" for name in names)
    caption = tag(
        "figcaption", f"{tag('strong', text(title))}{keys}{hovers}<br>{tag('span', text(smooth), class_='soft')}"
    )
    return tag("figure", charts.curves(title, stick, found) + caption)


def _hovering(line: charts.Line) -> str:
    assert line.hover is not None
    at, output, slope = line.hover
    where = f"{line.name}: " if line.name else ""
    return f"{where}hovers at {percent(output)}, the stick at {percent(at)}; slope there {decimal(slope)}"


def _smoothing(setup: Setup, curve: str) -> str:
    kind = setup.curves[curve].smoothing
    return {"none": "straight between its points", "unknown": "smoothed, shown as monotone"}.get(
        kind, f"{kind} smoothing"
    )


def _line(setup: Setup, channel: Channel, line: Described, mode: str) -> charts.Line | None:
    """The line with its other terms where they are at rest."""
    terms = line.terms or ()
    bent = next(term for term in terms if term.curve is not None)
    shape = lines.stick_shape(setup, bent, _first(bent.rate), _first(bent.expo))
    try:
        case = lines.cases(setup, line)[0]
    except OutOfBudget:
        return None
    others = (s.value(Fraction(0)) for name, s in case.shapes if name != bent.source)
    flat = shape.value(Fraction(0)) if shape.is_constant(-FULL, FULL) else Fraction(0)  # it is in the constant, then
    flown = Flown(channel, sum(others, case.constant) - flat, shape)
    curve = setup.curves[bent.curve or ""]
    plain_term = shape.rate == 100 and not shape.expo
    points = tuple((x, flown.output(x)) for x, _ in curve.points) if plain_term else ()
    return charts.Line(mode, flown, points, _hover(setup, channel, flown))


def _first(amount: Fraction | BySwitch) -> Fraction:
    """Where it hangs on a switch, as that stands at rest."""
    return next(iter(amount.at.values())) if isinstance(amount, BySwitch) else amount


def _hover(setup: Setup, channel: Channel, flown: Flown) -> tuple[Fraction, Fraction, Fraction] | None:
    """Where the craft hovers, and the slope there; for what carries it."""
    craft = setup.craft
    value = {"motor": craft.hover_throttle, "collective": craft.hover_collective}.get(channel.drives)
    if channel.drives == "motor" and (craft.rotor == "collective" and craft.governed_above is not None):
        return None
    at = None if value is None else flown.stick_for(value)
    if at is None or value is None:
        return None
    near = Fraction(1, 100)
    low, high = max(at - near, -FULL), min(at + near, FULL)
    slope = (flown.output(high) - flown.output(low)) / (high - low)
    return at, value, slope


def _curve_figure(setup: Setup, name: str) -> str:
    """A curve that no channel goes through."""
    said = f"{_smoothing(setup, name)}; no channel uses it"
    caption = tag("figcaption", f"{tag('strong', text(name))} {tag('span', text(said), class_='soft')}")
    return tag("figure", curve_svg(setup, name) + caption)


def curve_svg(setup: Setup, name: str) -> str:
    """One curve by itself. KeyError where there is none of that name."""
    curve = setup.curves[name]
    channel = Channel(name, None, "other", Described(()), {})
    flown = Flown(channel, Fraction(0), charts.shape_of(curve.points, curve.smoothing))
    return charts.curves(name, "stick", [charts.Line("", flown, curve.points)])


# -- battery


def _marks(setup: Setup) -> list[charts.Mark]:
    """The floor, and every alarm on the volts of the pack or a cell, each with the sag at hover current."""
    battery = setup.battery
    if battery.chemistry is None:
        return []
    from setuplint.checks import book

    floor = book.rules()[RULE_OF_FLOORS].limits[f"floor-{battery.chemistry}"].value
    sag = Fraction(0)
    if battery.resistance_mohm is not None and battery.hover_current_a is not None and battery.cells:
        sag = battery.resistance_mohm / battery.cells / 1000 * battery.hover_current_a
    found = [charts.Mark("floor", floor, floor=True)]
    for alarm in setup.alarms.values():
        for volts in sorted({v for v in _cell_volts(setup, alarm.when) if v is not None}):
            found.append(charts.Mark(alarm.name, volts, sag))
    return found


def _cell_volts(setup: Setup, formula: f.Formula, depth: int = 0) -> Iterator[Fraction]:
    for atom in f.atoms(formula):
        if isinstance(atom, f.Holds) and depth < 50:
            yield from _cell_volts(setup, setup.conditions[atom.condition].when, depth + 1)
        if isinstance(atom, f.Compare) and atom.name in setup.sensors:
            reads = setup.sensors[atom.name].reads
            if reads == "cell-voltage":
                yield atom.number
            elif reads == "pack-voltage" and setup.battery.cells:
                yield atom.number / setup.battery.cells


def _battery(setup: Setup) -> str:
    marks = _marks(setup)
    if not marks:
        return ""
    from setuplint.checks import book

    full = book.rules()["cell-count-mismatch"].limits[f"full-{setup.battery.chemistry}"].value
    sag = marks[-1].sag
    said = (
        f"Shaded: from where a cell at rest sags to the alarm at hover current, {decimal(sag * 1000, 0)} mV."
        if sag
        else ""
    )
    drawing = charts.battery("Volts a cell", full, marks)
    return tag("div", tag("figure", drawing + tag("figcaption", text(said))), class_="charts")


# -- overrides and channels


def _overrides(setup: Setup) -> str:
    drawing = override_map(setup, "Who can take which channel, from whom, by which switch")
    rows = []
    for channel in setup.channels.values():
        own = [o for o in setup.overrides.values() if o.channel == channel.name]
        own.sort(key=lambda o: -(o.priority or 0))
        for number, each in enumerate(own):
            below = ", ".join(o.name for o in own[number + 1 :]) or "the channel's own line"
            value = "not known" if each.value is None else percent(each.value)
            priority = "not known" if each.priority is None else decimal(each.priority)
            rows.append([text(channel.name), text(each.name), text(value), text(priority), text(below)])
    heads = ["Channel", "Override", "Value", "Priority", "Beats"]
    listed = table(heads, rows, "Overrides of each channel, the highest first") if rows else ""
    return (tag("figure", drawing, class_="map") if drawing else "") + listed


def _channels(setup: Setup) -> str:
    """The least and the greatest output in each mode, with hold and rescue called, and what the failsafe puts out."""
    decider = Decider(setup)
    free = [f.Not(f.Predicate(f"{word} called")) for word in ("hold", "rescue")]
    columns: list[tuple[str, f.Formula]] = [(m, f.both(f.ModeIs(m), *free)) for m in setup.modes] or [
        ("output", f.both(*free))
    ]
    if setup.intent.hold is not None:
        columns.append(("hold called", f.Predicate("hold called")))
    if setup.intent.rescue is not None:
        columns.append(("rescue called", f.both(f.Predicate("rescue called"), free[0])))
    rows = []
    for channel in setup.channels.values():
        cells = [text(_range(decider, channel, given)) for _, given in columns]
        entry = (setup.failsafe or {}).get(channel.name)
        cells.append(text("not given" if entry is None else entry if isinstance(entry, str) else percent(entry)))
        number = "" if channel.number is None else f" ({channel.number})"
        rows.append([text(f"{channel.name}{number}"), *cells])
    heads = ["Channel", *(text(name) for name, _ in columns), "failsafe"]
    note = tag("p", "Exact least and greatest over every reachable state, sticks and knobs anywhere.", class_="soft")
    return note + table(heads, rows, "Output by mode; the number at the receiver in brackets")


def _range(decider: Decider, channel: Channel, given: f.Formula) -> str:
    if not channel.described and not any(o.channel == channel.name for o in decider.setup.overrides.values()):
        return "not described"
    found = decider.output_range(channel.name, given)
    if found.least is None or found.greatest is None:
        return {"impossible": "never"}.get(found.verdict, "not known")
    shown = percent(found.least)
    if found.least != found.greatest:
        shown = f"{percent(found.least)} to {percent(found.greatest)}"
    if channel.drives == "motor" and found.least == found.greatest:
        shown += f" ({of_hundred(found.least)})"
    return shown


# -- what was decided


def _decided(report: Report) -> str:
    said = f"{counted(report.rules, 'rule')}, over {counted(report.states, 'state')} of the controls."
    waived = [
        tag("li", text(f"{each.rule} of {each.subject or 'the set-up'}: {each.message}")) for each in report.waived
    ]
    open_ = [tag("li", text(f"{each.rule}: because {each.because}")) for each in dict.fromkeys(report.not_judged)]
    return (
        tag("p", text(said))
        + (tag("h3", "Waived") + tag("ul", "".join(waived)) if waived else "")
        + (tag("h3", "Not judged") + tag("ul", "".join(open_)) if open_ else "")
    )


EXPLORER = """<p class="soft">Set the controls; what every channel puts out is worked out here, in the page.
Ramps and delays have run out.</p>
<p><button type="button" id="still">All at rest</button> <button type="button" id="power">Switch on anew</button>
<span id="said" role="status"></span></p>
<div class="controls" id="controls"></div>
<div class="wide" tabindex="0" role="region" aria-label="Outputs in this state"><table>
<caption>Outputs in this state</caption>
<thead><tr><th scope="col">Channel</th><th scope="col">Puts out</th><th scope="col">From -150 to +150</th>
<th scope="col">Decided by</th></tr></thead>
<tbody id="outputs"></tbody></table></div>
<p id="standing"></p>"""
