"""Hold and rescue in time: a bound under the limit is a proof, a run of the simulator over it a finding."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import ceil, floor

from setuplint.book.asking import Asking, both_scales, percent, seconds
from setuplint.budget import OutOfBudget
from setuplint.checks import amend
from setuplint.checks.aloft import off_the_ground
from setuplint.checks.overrides import lost_overrides
from setuplint.checks.rescue import CALLED as SAVING
from setuplint.checks.rescue import bound_words, is_callable_rescue, motor_need, need_places
from setuplint.checks.rescue_height import height_words, of_the_wait
from setuplint.dataclass import dataclass, replace
from setuplint.engine import delays, unknowns
from setuplint.engine.answers import Delay
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.timelines import TICK
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Path, Setup
from setuplint.setup.predicates import bound_formula, no_rotor_free, surely_runs_above


@dataclass(frozen=True, slots=True)
class DelayQuestion:
    """From settled flying, one movement makes `call` true; the channel must then satisfy `there` within `limit` seconds.

    `then` holds once all has settled: where it does not, the settled state itself is wrong, and another rule says so.
    """

    intent: str  # hold | stop | rescue
    channel: Channel
    call: f.Formula
    then: f.Formula
    there: Sequence[f.OutputCompare]
    limit: Fraction
    late: str  # what is late, in words, with {} for how late
    related: tuple[Place, ...] = ()
    before: f.Formula = f.TRUE  # holds before the movement

    @property
    def subject(self) -> str:
        """The channel; what a stop does to it is another matter than what the hold does."""
        return f"{self.channel.name} by stop" if self.intent == "stop" else self.channel.name


def hold_slow(ask: Asking) -> Iterator[Finding]:
    """From settled flying, calling hold leaves the rotor driven for too long, or calling stop the motor running."""
    craft = ask.setup.craft
    held = list(late_stops(ask, "hold", craft.rotor_free, "goes on driving the rotor"))
    yield from held
    said = [causes(finding) for finding in held]
    for finding in late_stops(ask, "stop", craft.motor_off, "goes on running"):
        if not any(causes(finding) <= others for others in said):  # one cause, one finding
            yield finding


def late_stops(ask: Asking, intent: str, most: Fraction | None, words: str) -> Iterator[Finding]:
    """What calls the intent brings a motor down to `most` late; without one, to where it is not sure that it runs."""
    if ask.unread("intent", intent):
        return
    if getattr(ask.setup.intent, intent) is None:
        return
    call = f.Predicate(f"{intent} called")
    known = surely_runs_above(ask.setup) if most is None else most
    least = "at least " if most is None else ""
    for motor in ask.judged_motors:
        if not may_wait(ask, call, f.OutputCompare(motor.name, "<=", motor.low)):
            continue
        stopped = f.OutputCompare(motor.name, "<=", known)
        late = f"after the {intent} is called, {motor.name} {words} for {least}{{}}"
        question = DelayQuestion(intent, motor, call, stopped, [stopped], ask.limit("longest"), late)
        found = list(slow_findings(ask, question))
        if most is not None:
            yield from found
        elif found:
            yield from (replace(finding, edit=None) for finding in found)  # how much quicker it must be is not known
        else:
            because = no_rotor_free(ask.setup) if intent == "hold" else ask.setup.lacking("craft", "motor-off")
            ask.not_judged(because, motor.name)


def causes(finding: Finding) -> set[Path]:
    """The conditions and ramps that make it late."""
    return {place.path for place in (finding.primary, *finding.related) if place.path[0] != "intent"}


def rescue_slow(ask: Asking) -> Iterator[Finding]:
    """After a movement that calls the rescue from settled flying, off the ground, level or power comes late."""
    if not is_callable_rescue(ask):
        return
    aloft = off_the_ground(ask, SAVING, f.Predicate("flying"))
    level = ask.setup.intent.level
    if level is None:
        ask.missing("intent", "level")
    else:
        channel = ask.setup.channels[level.channel]
        there = [a for a in f.atoms(bound_formula(level)) if isinstance(a, f.OutputCompare)]
        words = (
            f"after the rescue is called, it takes {{}} until {channel.name} levels the craft ({bound_words(level)})"
        )
        related: tuple[Place, ...] = (Place(("intent", "level"), "what levels the craft"),)
        then = f.both(SAVING, f.Predicate("levelled"))
        yield from slow_findings(
            ask, DelayQuestion("rescue", channel, SAVING, then, there, ask.limit("level"), words, related, aloft)
        )
    slow = [m for m in ask.judged_motors if may_wait(ask, SAVING, f.OutputCompare(m.name, ">=", m.high))]
    need = motor_need(ask) if slow else None
    for motor in slow if need is not None else ():
        assert need is not None
        value, what, path = need
        powered = f.OutputCompare(motor.name, ">=", value)
        words = f"after the rescue is called, it takes {{}} until {motor.name} gives {what}"
        related = need_places(ask, path)
        then = f.both(SAVING, powered)
        yield from slow_findings(
            ask, DelayQuestion("rescue", motor, SAVING, then, [powered], ask.limit("motor"), words, related, aloft)
        )


def may_wait(ask: Asking, call: f.Formula, *there: f.OutputCompare) -> bool:
    """Whether anything on the way of a channel to where it must be takes time at all, as far as it can be read."""
    channel = ask.setup.channels[there[0].channel]
    try:
        return bool(unread_waits(ask, call, channel)) or delays.rough(ask.decider, call, channel.name, there) > 0
    except OutOfBudget:
        return True


def unread_waits(ask: Asking, call: f.Formula, channel: Channel) -> list[str]:
    """What cannot be read, and may be a delay or a ramp of the channel."""
    setup = ask.as_decided()
    found = unread_parts(ask, [call, *(o.when for o in setup.acting_on(channel.name)), *map(f.ModeIs, setup.modes)])
    may_ramp = ask.broken("channels", channel.name) or ask.broken("modes")
    if may_ramp and any(line.terms is None for line in channel.every_line):
        found.append(setup.undescribed(channel.name))
    if ask.broken("overrides"):
        found.append(ask.setup.lacking("overrides"))
    return found + [f"overrides.{name} cannot be read" for name in lost_overrides(ask)]


def unread_parts(ask: Asking, formulas: Sequence[f.Formula]) -> list[str]:
    """What is not known of that which formulas rest on."""
    cone = ask.decider.cone(formulas)
    return list(unknowns.reasons(ask.as_decided(), f.And(tuple(formulas)), cone, ask.decider.unknowns))


def slow_findings(ask: Asking, question: DelayQuestion) -> Iterator[Finding]:
    channel, limit = question.channel, question.limit
    flying = f.both(f.Predicate("flying"), f.Not(question.call), question.before)
    try:
        if delays.rough(ask.decider, question.call, channel.name, question.there) <= limit:
            for because in unread_waits(ask, question.call, channel):
                ask.not_judged(because, channel.name)
            return
        if not delay_of(ask, channel) or not ask.possible(flying, channel.name):
            return
        delay = delays.delay(
            ask.decider,
            question.call,
            channel.name,
            given=flying,
            then=question.then,
            there=question.there,
            limit=limit,
        )
    except OutOfBudget as end:
        ask.undecided.append((question.subject, str(end)))
        return
    if delay.bound <= limit:
        for because in unread_parts(ask, [flying, question.then]):  # the movement may be one all the same
            ask.not_judged(because, channel.name)
        return
    last_seen = (ceil(delay.shown / TICK) - 1) * TICK  # the last moment of the run at which it was not there
    if delay.case is None or last_seen < limit:
        most = f"{seconds(delay.bound)} ({cause_places(delay)})"
        why = f"it may take up to {most}, over {seconds(limit)}, but no run shows it"
        ask.undecided.append((question.subject, why))
        return
    yield late_finding(ask, question, delay)


def delay_of(ask: Asking, channel: Channel) -> bool:
    """Whether all of the channel is described; noted where it is not."""
    if any(line.terms is None for line in channel.every_line):
        ask.not_judged(ask.setup.undescribed(channel.name))
        return False
    return True


def late_finding(ask: Asking, question: DelayQuestion, delay: Delay) -> Finding:
    case, name = delay.case, question.channel.name
    assert case is not None
    assert case.movement is not None
    before = case.evaluation.outputs[name]
    assert before is not None
    switch, position = case.movement
    motor = question.channel.drives == "motor"
    start = both_scales(round(before, 2)) if motor else percent(round(before, 2))
    taken = seconds(delay.shown)
    parts = delay.parts
    places = [Place(path, f"takes {seconds(time)}") for path, time in parts]
    return ask.finding(
        question.subject,
        f"{question.late.format(taken)}, longer than {seconds(question.limit)}: {cause_places(delay)}",
        places[-1] if places else Place(("channels", name)),
        case,
        related=[
            *places[:-1],
            Place(("intent", question.intent), f"what calls the {question.intent}"),
            *question.related,
        ],
        edit=quicker_edit(ask, delay, question.limit),
        estimate=waiting_height_words(ask, question, delay),
        outputs={name: before},
        then=f"then move {switch} to {position}: {name} starts from {start}, and it takes {taken}",
    )


def quicker_edit(ask: Asking, delay: Delay, limit: Fraction) -> Edit | None:
    """Where one key makes all of the delay: its share of the seconds allowed."""
    if len(delay.parts) != 1:
        return None
    path, taken = delay.parts[0]
    given = seconds_at(ask.setup, path)
    return None if given is None else amend.number_edit(path, Fraction(floor(given * limit / taken * 100), 100))


def seconds_at(setup: Setup, path: Path) -> Fraction | None:
    """What is written at the path of a delay."""
    if path not in setup.declared:
        return None
    if path[0] == "conditions":
        condition = setup.conditions[str(path[1])]
        return condition.after if path[-1] == "after" else condition.stays
    line = setup.channels[str(path[1])].line(str(path[3]) if path[2] == "in" else None)
    return line.ramp_up if path[-1] == "ramp-up" else line.ramp_down


def waiting_height_words(ask: Asking, question: DelayQuestion, delay: Delay) -> str:
    """What the wait for a rescue costs."""
    if question.intent != "rescue":
        return ""
    case, channel = delay.case, question.channel
    after = case.after_evaluation if case is not None else None
    if channel.drives != "motor" or after is None:
        return of_the_wait(delay.shown)
    return height_words(ask, channel, after.outputs[channel.name], delay.shown) or of_the_wait(delay.shown)


def cause_places(delay: Delay) -> str:
    return ", ".join(f"{cause_place(path)} {seconds(time)}" for path, time in delay.parts)


def cause_place(path: Path) -> str:
    """A part of a bound in words."""
    if path[0] == "conditions":
        return f"condition {path[1]} {'waits' if path[-1] == 'after' else 'stays on'} for"
    return f"the ramp of {path[1]} takes up to"
