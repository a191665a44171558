"""What each part of a set-up uses, and why; and what nothing uses. Without networkx, which is slow to import."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from setuplint.named_tuple import NamedTuple
from setuplint.setup.formulas import (
    Active,
    Compare,
    Decides,
    Follows,
    Formula,
    Heard,
    Holds,
    Lost,
    ModeIs,
    OutputCompare,
    Sounds,
    SwitchIs,
    Unknown,
    atoms,
)
from setuplint.setup.model import Bound, BySwitch, Line, Setup, Term
from setuplint.setup.states import setup_formulas

Node = tuple[str, str]
"""A kind and a name: ("switch", "hold"). An intent and the start go by their key, a failsafe by its channel, a claim by
its index."""


class Use(NamedTuple):
    """`user` depends on `used`, and why: the key or the kind of use."""

    used: Node
    user: Node
    why: str


def named_nodes(setup: Setup, formula: Formula | None) -> Iterator[Node]:
    """What a formula names, in the order written."""
    for atom in atoms(formula) if formula is not None else ():
        match atom:
            case SwitchIs(switch=name):
                yield "switch", name
            case Compare(name=name):
                yield control_node(setup, name)
            case Lost(sensor=name) | Heard(sensor=name):
                yield "sensor", name
            case Holds(condition=name):
                yield "condition", name
            case ModeIs(mode=name):
                yield "mode", name
            case OutputCompare(channel=name) | Decides(channel=name):
                yield "channel", name
            case Follows(channel=name, stick=stick):
                yield "channel", name
                yield control_node(setup, stick)
            case Active(override=name):
                yield "override", name
            case Sounds(alarm=name):
                yield "alarm", name


def control_node(setup: Setup, name: str) -> Node:
    """A stick, knob, switch or sensor by its name."""
    if name in setup.switches:
        return "switch", name
    if name in setup.sticks:
        return ("knob" if setup.sticks[name].knob else "stick"), name
    return "sensor", name


def uses(setup: Setup) -> Iterator[Use]:
    """Every use of one part by another, in the order of the file within each kind."""
    for condition in setup.conditions.values():
        yield from _formula(setup, condition.when, ("condition", condition.name), "when")
        yield from _formula(setup, condition.until, ("condition", condition.name), "until")
    before = None
    for mode in setup.modes.values():
        yield from _formula(setup, mode.when, ("mode", mode.name), "when")
        if before is not None:
            yield Use(("mode", before), ("mode", mode.name), "before")
        before = mode.name
    for channel in setup.channels.values():
        user = ("channel", channel.name)
        yield from _line(setup, channel.own, user)
        for mode_name, line in channel.lines.items():
            if line != channel.own:
                yield Use(("mode", mode_name), user, "mode")
                yield from _line(setup, line, user)
    for override in setup.overrides.values():
        yield from _formula(setup, override.when, ("override", override.name), "when")
        yield Use(("override", override.name), ("channel", override.channel), "overrides")
    for alarm in setup.alarms.values():
        yield from _formula(setup, alarm.when, ("alarm", alarm.name), "when")
    for timer in setup.timers.values():
        yield from _formula(setup, timer.runs, ("timer", timer.name), "runs")
    for name in setup.failsafe or {}:
        yield Use(("channel", name), ("failsafe", name), "failsafe")
    yield from _formula(setup, setup.start or setup.start_warns, ("start", "requires"), "requires")
    if setup.trainer is not None:
        yield from _formula(setup, setup.trainer.lent, ("trainer", "lent"), "lent")
    intent = setup.intent
    for key, formula in (("hold", intent.hold), ("stop", intent.stop), ("rescue", intent.rescue)):
        yield from _formula(setup, formula, ("intent", key), key)
    for key, bound in (("level", intent.level), ("lift", intent.lift)):
        if isinstance(bound, Bound):
            yield Use(("channel", bound.channel), ("intent", key), key)
    for claim in setup.claims:
        yield from _formula(setup, claim.never, ("claim", str(claim.index)), "never")


def _formula(setup: Setup, formula: Formula | None, user: Node, why: str) -> Iterator[Use]:
    for node in named_nodes(setup, formula):
        yield Use(node, user, "listens" if node[0] == "sensor" and user[0] == "alarm" else why)


def _line(setup: Setup, line: Line, user: Node) -> Iterator[Use]:
    for n, term in enumerate(line.terms or ()):
        yield from _term(setup, term, user, "mix" if n else "from")


def _term(setup: Setup, term: Term, user: Node, why: str) -> Iterator[Use]:
    if isinstance(term.source, str):
        yield Use(control_node(setup, term.source), user, why)
    if term.lending is not None:
        yield Use(("stick", term.lending.stick), user, "lent")
        yield Use(("trainer", "lent"), user, "lent")
    if term.curve is not None:
        yield Use(("curve", term.curve), user, "curve")
    for key, setting in (("rate", term.rate), ("expo", term.expo)):
        if isinstance(setting, BySwitch):
            yield Use(("switch", setting.switch), user, key)


class Unused(NamedTuple):
    curves: tuple[str, ...]
    conditions: tuple[str, ...]
    sensors: tuple[str, ...]


HAVE_FORMULAS = frozenset(
    ("conditions", "modes", "overrides", "alarms", "timers", "start", "trainer", "intent", "claims")
)


def unused_parts(setup: Setup) -> Unused:
    """Curves and conditions that nothing uses, sensors that no formula names and that are not shown; in the order of
    the setup. A part that could not be read may use any: then nothing is said of what might stand in it, nor of a part
    that could not be read itself."""
    used = {use.used for use in uses(setup)}
    if () in setup.broken:
        return Unused((), (), ())  # any table may be missing
    broken = {path[0] for path in setup.broken}
    formulas_known = broken.isdisjoint(HAVE_FORMULAS) and not any(
        isinstance(atom, Unknown) for formula in setup_formulas(setup) for atom in atoms(formula)
    )

    vague = {c.name for c in setup.channels.values() if any(line.terms is None for line in c.every_line)}
    named_in_vague = any(
        path[0] == "channels" and len(path) > 2 and path[1] in vague and path[-1] in ("curve", "mix")
        for path in setup.declared
    )
    # what a channel has in a mode that may be one of those lost is not among its lines
    curves_known = "channels" not in broken and ("modes",) not in setup.broken and not named_in_vague

    def idle(kind: str, key: str, names: Iterable[str], known: bool) -> tuple[str, ...]:
        return tuple(n for n in names if known and (kind, n) not in used and not setup.is_broken(key, n))

    return Unused(
        idle("curve", "curves", setup.curves, curves_known),
        idle("condition", "conditions", setup.conditions, formulas_known),
        idle("sensor", "sensors", (s.name for s in setup.sensors.values() if not s.shown), formulas_known),
    )
