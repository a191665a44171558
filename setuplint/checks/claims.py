"""Rules that a formula can say: `never` in the rule's file, decided by the engine, one finding a cause."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.checks.asking import Asking, both_scales, percent
from setuplint.decide.answers import Case
from setuplint.decide.evaluate import output
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Bound

MOST_CAUSES = 100
MOTOR_PREDICATES = ("motor runs", "rotor driven", "flying")
CALLED = {"hold called": "hold", "stop called": "stop", "rescue called": "rescue"}


def check(ask: Asking) -> Iterator[Finding]:
    """Every cause of a broken rule: who decides the channel that it speaks of; without one, the intent it speaks of."""
    text = ask.rule.never or f"not ({ask.rule.always})"
    never = ask.decider.formula(text)
    for word, intent in CALLED.items():
        if f.Predicate(word) not in f.atoms(never):
            continue
        if getattr(ask.setup.intent, intent) is None:
            if ask.broken("intent", intent):
                ask.not_judged(f"intent.{intent} cannot be read")
            return
        if (f"{intent}-missing", intent) in ask.spoken:  # it can never be called, and that has been said
            return
    channels = speaking_channels(ask, never)
    if not channels:
        subject, place = subject_of(never)
        case = ask.find(never, subject)
        if case is not None:
            yield ask.finding(subject, message(ask, case, None, None), place, case)
        return
    found = [finding for channel in channels for finding in causes(ask, never, channel, channels)]
    yield from found
    if not found and len(channels) > 1:  # no channel brings it about by itself
        subject, place = subject_of(never)
        case = ask.find(never, subject)
        if case is not None:
            yield ask.finding(subject, message(ask, case, None, None), place, case, channels=channels)


def speaking_channels(ask: Asking, never: f.Formula) -> list[str]:
    """The channels whose outputs the formula turns on."""
    found: list[str] = []
    for atom in f.atoms(never):
        if isinstance(atom, f.OutputCompare):
            found.append(atom.channel)
        elif isinstance(atom, f.Predicate):
            if atom.name in MOTOR_PREDICATES:
                found += [c.name for c in ask.motors if c.described]
            bound = {"levelled": ask.setup.intent.level, "lifted": ask.setup.intent.lift}.get(atom.name)
            if isinstance(bound, Bound):
                found.append(bound.channel)
    return list(dict.fromkeys(found))


def subject_of(never: f.Formula) -> tuple[str, Place]:
    for atom in f.atoms(never):
        if isinstance(atom, f.Predicate):
            if atom.name in CALLED:
                return CALLED[atom.name], Place(("intent", CALLED[atom.name]))
            if atom.name == "start allowed":
                return "start", Place(("start", "requires"))
    return "setup", Place(())


def causes(ask: Asking, never: f.Formula, channel: str, channels: list[str]) -> Iterator[Finding]:
    """One finding for each override that brings it about, and one for the channel's own lines."""
    asked = narrowed(ask, never, channel, channels)
    for override, case in by_decider(ask, asked, channel):
        yield ask.finding(
            override or channel,
            message(ask, case, channel, override),
            cause_place(ask, channel, override, case),
            case,
            related=list(related(ask, never, channel, override)),
            channels=[channel],
        )


def by_decider(
    ask: Asking, formula: f.Formula, channel: str, *, trim: bool = False
) -> Iterator[tuple[str | None, Case]]:
    """For each override of a channel, and for None (its own lines): a case of the formula in which that one decides."""
    if not ask.possible(formula, channel, trim=trim):
        return
    deciders: list[str | None] = [o.name for o in ask.setup.overrides.values() if o.channel == channel]
    for override in [*deciders, None]:
        case = ask.find(f.both(formula, f.Decides(channel, override)), override or channel, trim=trim)
        if case is not None:
            yield override, case


def cause_place(ask: Asking, channel: str, override: str | None, case: Case) -> Place:
    """What decides a channel in a case: an override, or the channel's line in the mode."""
    return Place(("overrides", override)) if override else line_place(ask, channel, case)


def narrowed(ask: Asking, never: f.Formula, channel: str, channels: list[str]) -> f.Formula:
    """With several motors, the claim about this one alone."""
    if len(channels) == 1 or channel not in [c.name for c in ask.motors]:
        return never
    craft = ask.setup.craft
    limits = {"motor runs": craft.motor_off, "rotor driven": craft.rotor_free}
    mine = [f.OutputCompare(channel, ">", limit) for name, limit in limits.items()
            if limit is not None and f.Predicate(name) in f.atoms(never)]  # fmt: skip
    return f.both(never, *mine)


def line_place(ask: Asking, channel: str, case: Case) -> Place:
    mode = case.evaluation.mode
    if mode is not None and ("channels", channel, "in", mode) in ask.setup.declared:
        return Place(("channels", channel, "in", mode))
    return Place(("channels", channel))


def related(ask: Asking, never: f.Formula, channel: str, override: str | None) -> Iterator[Place]:
    """What should have prevented it, and whose intent it breaks."""
    for word, intent in CALLED.items():
        if f.Predicate(word) in f.atoms(never):
            yield Place(("intent", intent), f"what calls {intent}")
    if f.Predicate("hold called") in f.atoms(never) and channel in [c.name for c in ask.motors]:
        for other in ask.setup.overrides.values():
            if other.channel == channel and other.name != override and stops(ask, channel, other.value):
                yield Place(("overrides", other.name), "this one stops the motor")


def stops(ask: Asking, channel: str, value: object) -> bool:
    off = ask.setup.craft.motor_off
    return isinstance(value, Fraction) and off is not None and output(ask.setup.channels[channel], value) <= off


def message(ask: Asking, case: Case, channel: str | None, override: str | None) -> str:
    """The rule's title with the numbers of the case in it."""
    title = ask.rule.title
    if channel is None:
        return title
    value = case.evaluation.outputs[channel]
    assert value is not None
    shown = both_scales(value) if channel in [c.name for c in ask.motors] else percent(value)
    return f"{title}: {who(override)} puts {channel} at {shown}"


def who(override: str | None) -> str:
    return f"override {override}" if override else "the channel's own line"
