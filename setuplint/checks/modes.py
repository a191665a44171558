"""Flight modes: whether one always holds, each is flown and spoken, and idle-up keeps the motor on."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.book.asking import Asking, both_scales, percent
from setuplint.checks import claims
from setuplint.checks.alarms import heard_words
from setuplint.checks.curve_shapes import UNCALLED, setting_values
from setuplint.checks.structure import is_said_elsewhere
from setuplint.checks.travels import FREE
from setuplint.findings import Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Line, Mode, Setup
from setuplint.setup.predicates import running, runs_at


def mode_gap(ask: Asking) -> Iterator[Finding]:
    """Modes exist, and in some state none holds."""
    modes = ask.setup.modes
    if not modes:
        return
    case = ask.find(f.both(*(f.Not(f.ModeIs(m)) for m in modes)), "modes")
    if case is None:
        return
    inside = {name for _, name in ask.decider.cone([f.ModeIs(m) for m in modes])}
    shown = claims.position_words({name: value for name, value in case.matters.items() if name in inside})
    last = list(modes)[-1]
    yield ask.finding(
        "modes",
        f"none of the modes {', '.join(modes)} is on{f' with {shown}' if shown else ''}: the channels use their own "
        "lines",
        Place(("modes", last, "when"), "the last mode"),
        case,
        related=[Place(("modes", m, "when"), "not on either") for m in modes if m != last],
    )


def mode_unreachable(ask: Asking) -> Iterator[Finding]:
    """A mode that is flown in no state."""
    above: list[Mode] = []
    for mode in ask.setup.modes.values():
        flown = f.ModeIs(mode.name)
        if not ask.possible(flown, mode.name) and ask.never(flown):
            yield from unreachable_finding(ask, mode, above)
        above.append(mode)


def unreachable_finding(ask: Asking, mode: Mode, above: list[Mode]) -> Iterator[Finding]:
    when = mode.when or f.TRUE
    first = [m for m in above if ask.possible(f.both(when, f.ModeIs(m.name)), mode.name)]
    if first:
        names = " or ".join(m.name for m in first)
        why = f"wherever it could be on, {names} comes first" if mode.when else f"{names} is on everywhere"
    elif is_said_elsewhere(ask, when, ("modes", mode.name, "when"), f.ModeIs(mode.name)):
        return
    else:
        why = "its own `when` never holds"
    yield ask.finding(
        mode.name,
        f"mode {mode.name} is never flown: {why}",
        ("modes", mode.name),
        related=[Place(("modes", m.name), "comes first") for m in first],
    )


def mode_unannounced(ask: Asking) -> Iterator[Finding]:
    """Two or more modes, and this one has no voice."""
    modes = ask.setup.modes
    if len(modes) < 2:
        return
    for mode in modes.values():
        if not mode.voice and ask.broken("modes", mode.name):
            ask.not_judged(f"modes.{mode.name} cannot be read", mode.name)
        elif not mode.voice:
            yield ask.finding(
                mode.name,
                f"nothing is spoken when mode {mode.name} is entered",
                ("modes", mode.name),
                edit=Edit(("modes", mode.name, "voice"), f'"{mode.name.replace("-", " ")}"'),
            )


def mode_voice_shared(ask: Asking) -> Iterator[Finding]:
    """Two modes that are both flown are announced by the same words. One finding for each but the first."""
    said: dict[str, list[Mode]] = {}
    for mode in ask.setup.modes.values() if len(ask.setup.modes) > 1 else ():
        heard = heard_words(mode.voice)
        if not ask.unread("modes", mode.name, "voice", subject=mode.name) and heard:
            said.setdefault(heard, []).append(mode)
    for alike in said.values():
        flown = [m for m in alike if len(alike) > 1 and not ask.proved_impossible(f.ModeIs(m.name))]
        for mode in flown[1:]:
            own = mode.name.replace("-", " ")
            place, first = ("modes", mode.name, "voice"), flown[0]
            yield ask.finding(
                mode.name,
                f"mode {mode.name} is announced as “{mode.voice}”, and so is mode {first.name}: they cannot be told apart by ear",
                place,
                related=[Place(("modes", first.name, "voice"), "the same words")],
                edit=None if own in said else Edit(place, f'"{own}"'),
            )


def idle_up_stops(ask: Asking) -> Iterator[Finding]:
    """An idle-up mode, neither hold, stop nor rescue called: the motor stops, or leaves what the governor holds. One
    finding for each override that does it, and for each mode."""
    seen: set[str] = set()
    for mode in ask.setup.modes.values():
        if not mode.idle_up:
            continue
        here = f.both(f.ModeIs(mode.name), UNCALLED)
        if not ask.motors:
            ask.possible(f.both(here, f.Not(f.Predicate("motor runs"))), mode.name)  # says what is missing
        for channel in ask.motors:
            low = too_low(ask.setup, channel)
            for finding in stopping_findings(ask, mode, channel, f.both(here, low)):
                if finding.subject not in seen:
                    yield finding
                seen.add(finding.subject)


def too_low(setup: Setup, channel: Channel) -> f.Formula:
    """The motor stops, or a governor does not hold its speed."""
    governed = setup.craft.governed_above
    if governed is not None:  # and that is above motor-off, wherever this is
        return f.OutputCompare(channel.name, "<", governed)
    return f.Not(running(setup, "motor runs", [channel.name]))


def stopping_findings(ask: Asking, mode: Mode, channel: Channel, low: f.Formula) -> Iterator[Finding]:
    """What brings a motor that low in one mode."""
    craft = ask.setup.craft
    own = mode.name if len(ask.motors) == 1 else f"{mode.name} {channel.name}"
    found = False
    for override, case in claims.by_decider(ask, low, channel.name, trim=True):
        found = True
        value = case.evaluation.outputs[channel.name]
        assert value is not None
        off = "" if craft.motor_off is None else f", not above motor-off at {percent(craft.motor_off)}"
        does = f"{off}: the motor stops in the air"
        if craft.governed_above is not None and runs_at(ask.setup, value, craft.motor_off) is not False:
            does = f", under governed-above at {percent(craft.governed_above)}: the governor lets the rotor slow down"
        yield ask.finding(
            override or own,
            f"in idle-up mode {mode.name}, {claims.decider_words(override)} puts {channel.name} at {both_scales(value)}{does}",
            claims.cause_place(ask, channel.name, override, case),
            case,
            related=[Place(("modes", mode.name), "an idle-up mode")],
            channels=[channel.name],
        )
    if not found:
        for stick in trims_not_given(ask.setup, channel.line(mode.name), beyond=True):
            ask.missing("sticks", stick, "trim", subject=mode.name)


def trims_not_given(setup: Setup, line: Line, beyond: bool) -> list[str]:
    """The sticks that a line reads and whose trim is not given; `beyond`: only where trim goes where no stick can."""
    found = []
    for term in line.terms or ():
        stick = setup.sticks.get(str(term.source)) if term.kind == "stick" else None
        if stick is None or stick.knob or stick.trim is not None:
            continue
        if not beyond or any(0 < abs(rate) < 100 for rate in setting_values(term.rate)):
            found.append(stick.name)
    return found


def level_outside_rescue(ask: Asking) -> Iterator[Finding]:
    """An aerobatic mode in which the unit is told to level the craft all the time, with neither hold nor rescue called."""
    aerobatic = [mode for mode in ask.setup.modes.values() if mode.aerobatic]
    level = ask.setup.intent.level
    if aerobatic and level is None:
        if ask.broken("intent", "level") or ask.setup.driving("stabiliser"):
            ask.missing("intent", "level")
        return
    for mode in aerobatic if level is not None else ():
        here = f.both(f.ModeIs(mode.name), FREE)
        levelled = f.both(here, f.Predicate("levelled"))
        if not ask.possible(levelled, mode.name) or not ask.proved_impossible(
            f.both(here, f.Not(f.Predicate("levelled")))
        ):
            continue
        case = ask.find(levelled, mode.name)
        assert case is not None
        assert level is not None
        value = case.evaluation.outputs[level.channel]
        shown = "" if value is None else f", at {percent(value)}"
        yield ask.finding(
            mode.name,
            f"{level.channel} levels the craft in all of aerobatic mode {mode.name}{shown}: it cannot be flown inverted there, "
            "and the rescue levels nothing that was not level",
            ("modes", mode.name),
            case,
            related=[Place(("intent", "level"), "what levels")],
            channels=[level.channel],
        )
