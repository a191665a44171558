"""Rules that a formula can say: `never` in the rule's file, decided by the engine, one finding a cause."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from math import floor

from setuplint.book.asking import Asking, both_scales, percent, plain
from setuplint.checks import amend
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.channel_values import output
from setuplint.plain.evaluate import truth
from setuplint.plain.state import LOST, UNHEARD
from setuplint.setup import formulas as f
from setuplint.setup.model import Bound, Override
from setuplint.setup.predicates import running, runs_at

HIGHEST = 1_000_000 - 1  # a priority that can still be gone above
MOTOR_PREDICATES = ("motor runs", "rotor driven", "flying")
CALLED = {"hold called": "hold", "stop called": "stop", "rescue called": "rescue"}


def broken_claim(ask: Asking) -> Iterator[Finding]:
    """Every cause of a broken rule: who decides the channel that it speaks of; without one, the intent it speaks of."""
    text = ask.rule.never or f"not ({ask.rule.always})"
    try:
        never = ask.decider.formula(text)
    except f.FormulaError as error:  # a club's claim may name what this craft does not have
        ask.not_judged(error.message, is_absent=True)
        return
    for word in intents_called(never):
        intent = CALLED[word]
        if getattr(ask.setup.intent, intent) is None:
            ask.unread("intent", intent)
            return
        if (f"{intent}-missing", intent) in ask.spoken:  # it can never be called, and that has been said
            return
    channels = speaking_channels(ask, never)
    found = [finding for channel in channels for finding in claim_causes(ask, never, channel, channels)]
    yield from found
    if not found and len(channels) != 1:  # no channel brings it about by itself
        subject, place = subject_of(ask, never)
        case = ask.find(never, subject)
        if case is not None:
            yield ask.finding(subject, claim_words(ask, case, None, None), place, case, channels=channels, hazard=never)


def intents_called(never: f.Formula) -> list[str]:
    """What must be called for the formula to be true; where that is nothing, what must not be called."""
    asked: dict[bool, list[str]] = {True: [], False: []}
    waiting = [(never, True)]
    while waiting:
        formula, positive = waiting.pop()
        if isinstance(formula, f.And | f.Or):
            waiting += [(item, positive) for item in formula.items]
        elif isinstance(formula, f.Not):
            waiting.append((formula.item, not positive))
        elif isinstance(formula, f.Predicate) and formula.name in CALLED:
            asked[positive].append(formula.name)
    return list(dict.fromkeys(asked[True] or asked[False]))


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


def subject_of(ask: Asking, never: f.Formula) -> tuple[str, Place]:
    for atom in f.atoms(never):
        if isinstance(atom, f.Predicate):
            if atom.name in CALLED:
                return CALLED[atom.name], Place(("intent", CALLED[atom.name]))
            if atom.name == "start allowed":
                if ("start", "requires") in ask.setup.declared:
                    return "start", Place(("start", "requires"))
                return "start", Place(("intent", "hold"), "not asked for at power-up: there is no [start] requires")
    return "setup", Place(())


def claim_causes(ask: Asking, never: f.Formula, channel: str, channels: list[str]) -> Iterator[Finding]:
    """One finding for each override that brings it about, and one for the channel's own lines."""
    asked = narrowed_claim(ask, never, channel, channels)
    called = stops_called(never)
    stopped = bool(called) and channel in [c.name for c in ask.motors]
    found = stop_causes(ask, asked, channel, f.both(*called)) if stopped else by_decider(ask, asked, channel)
    for override, case in found:
        yield ask.finding(
            override or channel,
            claim_words(ask, case, channel, override),
            cause_place(ask, channel, override, case),
            case,
            related=[*related_places(ask, never, channel, override), *servo_places(ask, case, channel)],
            channels=[channel],
            edit=remedy_edit(ask, never, channel, override, case) if override else None,
            hazard=never,
        )


def stop_causes(ask: Asking, formula: f.Formula, channel: str, called: f.Formula) -> Iterator[tuple[str | None, Case]]:
    """Like `by_decider`, of a motor that `called` should have stopped. Where nothing does, that is one cause: an override
    is another only if it beats one that stops the motor, or belongs to the hold itself."""
    found = dict(by_decider(ask, formula, channel))
    for override, case in found.items():
        if override is None:
            yield None, case
            continue
        beaten = [f.Active(o.name) for o in stoppers(ask, channel) if o.name != override]
        over = ask.find(f.both(formula, f.Decides(channel, override), f.either(*beaten)), override) if beaten else None
        if over is not None or None not in found or is_only_when(ask, override, called):
            yield override, over or case


def stoppers(ask: Asking, channel: str) -> list[Override]:
    """The overrides that stop a motor, the highest priority first."""
    found = [o for o in ask.setup.acting_on(channel) if stopping(ask, o)]
    return sorted(found, key=lambda o: o.priority or Fraction(0), reverse=True)


def is_only_when(ask: Asking, override: str, called: f.Formula) -> bool:
    return ask.proved_impossible(f.both(f.Active(override), f.Not(called)))


def remedy_edit(ask: Asking, never: f.Formula, channel: str, override: str, case: Case) -> Edit | None:
    """An override that should stop the motor, or be beaten by one that does; or one that should level, or be beaten so."""
    stops, level, asked = stops_called(never), ask.setup.intent.level, f.conjuncts(never)
    if stops and channel in [c.name for c in ask.motors]:
        return stronger_hold_edit(ask, channel, override, f.both(*stops), case)
    rescue = f.Predicate("rescue called")
    if level is not None and level.channel == channel and rescue in asked and f.Not(f.Predicate("levelled")) in asked:
        return leveller_edit(ask, level, override, rescue, case)
    return None


def stops_called(never: f.Formula) -> list[f.Formula]:
    """Which of hold and stop must be called for the formula to be true."""
    return [part for part in f.conjuncts(never) if part in (f.Predicate("hold called"), f.Predicate("stop called"))]


def stronger_hold_edit(ask: Asking, channel: str, override: str, called: f.Formula, case: Case) -> Edit | None:
    """A new value for an override that is the hold's own, or a new priority for what stops the motor whenever called, unless
    in the case it is not its priority that it lacks: it comes late."""
    if is_only_when(ask, override, called):
        value = next((v for v in (-100, 100) if stops_motor(ask, channel, Fraction(v))), None)
        limits = ask.setup.overrides[override].limits
        return None if value is None or limits else Edit(("overrides", override, "value"), str(value))
    return highest_edit(ask, channel, stoppers(ask, channel), called, case)


def leveller_edit(ask: Asking, level: Bound, override: str, called: f.Formula, case: Case) -> Edit | None:
    """A new value for an override that is there for what is called alone; what else is meant for something else, and what levels
    for this alone is put above it."""
    if is_only_when(ask, override, called):
        return amend.output_edit(ask.setup, override, level)
    mine = ask.setup.acting_on(level.channel)
    own = (o for o in mine if amend.keeps_within(ask.setup, o, level) and is_only_when(ask, o.name, called))
    return highest_edit(ask, level.channel, own, called, case)


def highest_edit(
    ask: Asking, channel: str, overrides: Iterable[Override], called: f.Formula, case: Case
) -> Edit | None:
    """The highest priority of a channel for the first of some overrides that is on in the case, and whenever called: in time,
    too, where the rule looks at that."""
    others = [o.priority for o in ask.setup.acting_on(channel)]
    highest = max((p for p in others if p is not None), default=Fraction(0))
    if None in others or highest >= HIGHEST:
        return None
    for override in overrides:
        active = f.Active(override.name)
        on = truth(ask.setup, active, case.state, case.evaluation) is True
        if on and ask.answer(f.both(called, f.Not(active))).impossible:
            return Edit(("overrides", override.name, "priority"), str(floor(highest) + 1))
    return None


def by_decider(
    ask: Asking, formula: f.Formula, channel: str, *, trim: bool = False
) -> Iterator[tuple[str | None, Case]]:
    """For each override of a channel, and for None (its own lines): a case of the formula in which that one decides."""
    if not ask.possible(formula, channel, trim=trim):
        return
    deciders: list[str | None] = [o.name for o in ask.setup.acting_on(channel)]
    for override in [*deciders, None]:
        case = ask.find(f.both(formula, f.Decides(channel, override)), override or channel, trim=trim)
        if case is not None:
            yield override, case


def cause_place(ask: Asking, channel: str, override: str | None, case: Case) -> Place:
    """What decides a channel in a case: an override, or the channel's line in the mode."""
    return Place(("overrides", override)) if override else line_place(ask, channel, case)


def narrowed_claim(ask: Asking, never: f.Formula, channel: str, channels: list[str]) -> f.Formula:
    """With several motors, the claim about this one alone."""
    if len(channels) == 1 or channel not in [c.name for c in ask.motors]:
        return never
    asked = [name for name in ("motor runs", "rotor driven") if f.Predicate(name) in f.atoms(never)]
    return f.both(never, *(running(ask.setup, name, [channel]) for name in asked))


def line_place(ask: Asking, channel: str, case: Case) -> Place:
    mode = case.evaluation.mode
    if mode is not None and ("channels", channel, "in", mode) in ask.setup.declared:
        return Place(("channels", channel, "in", mode))
    return Place(("channels", channel))


def related_places(ask: Asking, never: f.Formula, channel: str, override: str | None) -> Iterator[Place]:
    """What should have prevented it, and whose intent it breaks."""
    for word, intent in CALLED.items():
        if f.Predicate(word) in f.atoms(never) and ("intent", intent) in ask.setup.declared:
            yield Place(("intent", intent), f"what calls {intent}")
    if f.Predicate("hold called") in f.atoms(never) and channel in [c.name for c in ask.motors]:
        for other in ask.setup.overrides.values():
            if other.channel == channel and other.name != override and stopping(ask, other):
                yield Place(("overrides", other.name), "this one stops the motor")


def stopping(ask: Asking, override: Override) -> bool:
    """Whether an override stops its motor whenever it decides: its value does, or the most that it lets through."""
    ends = override.at_least if ask.setup.channels[override.channel].reversed else override.at_most
    most = ends if override.limits else override.value
    return most is not None and stops_motor(ask, override.channel, most)


def demand_place(ask: Asking, override: str) -> Place:
    """What an override demands."""
    return Place(("overrides", override, next(iter(ask.setup.overrides[override].numbers), "value")))


def stops_motor(ask: Asking, channel: str, value: Fraction) -> bool:
    return runs_at(ask.setup, output(ask.setup.channels[channel], value), ask.setup.craft.motor_off) is False


def servo_places(ask: Asking, case: Case, channel: str) -> Iterator[Place]:
    """The servo's settings, where they make the output another than the demand."""
    demand = case.evaluation.demands[channel]
    if demand is None or output(ask.setup.channels[channel], demand) == demand:
        return
    for key in ("reversed", "travel", "sub-trim", "low", "high"):
        if ("channels", channel, key) in ask.setup.declared:
            yield Place(("channels", channel, key), f"makes another output of {percent(demand)}")


def claim_words(ask: Asking, case: Case, channel: str | None, override: str | None) -> str:
    """The rule's title with the numbers of the case in it."""
    if channel is None:
        where = position_words(case.matters)
        return f"{ask.rule.title}: {where}" if where else ask.rule.title
    value = case.evaluation.outputs[channel]
    assert value is not None
    shown = both_scales(value) if channel in [c.name for c in ask.motors] else percent(value)
    return f"{ask.rule.title}: {decider_words(override)} puts {channel} at {shown}{beaten_words(ask, case, channel, override)}"


def beaten_words(ask: Asking, case: Case, channel: str, override: str | None) -> str:
    """Which override that stops the motor is on too, and why it does not decide."""
    if override is None:
        return ""
    mine = ask.setup.overrides[override].priority
    for other in stoppers(ask, channel):
        on = truth(ask.setup, f.Active(other.name), case.state, case.evaluation)
        if on and other.name != override and mine is not None and other.priority is not None:
            if mine == other.priority:
                return f", though {other.name} is on too: both have priority {plain(mine)}, and nothing says which wins"
            return f", though {other.name} is on too: priority {plain(mine)} beats {plain(other.priority)}"
    return ""


def position_words(controls: Mapping[str, str | Fraction]) -> str:
    """Controls in words: hold at off, link lost."""
    words = []
    for name, value in controls.items():
        shown = value if isinstance(value, str) else f"{float(value):g}"
        words.append(f"{name} {shown}" if shown in (LOST, UNHEARD) else f"{name} at {shown}")
    return ", ".join(words)


def decider_words(override: str | None) -> str:
    return f"override {override}" if override else "the channel's own line"
