"""What differs in plain values: delays, repeats, failsafe, ramps, what the craft is said to be. No state is needed to tell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from setuplint.comparison.changes import CraftChange, NotCompared, SideValue
from setuplint.comparison.joined import Joined, Side
from setuplint.comparison.matching import KINDS, Matching, noun
from setuplint.dataclass import field_names
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cones
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Bound, Channel, Condition, Setup

Facts = dict[tuple[str, str], SideValue]  # (subject, what) to its value
LEFT_OUT = frozenset(("name", "pulse_centre", "pulse_per_percent"))

Fact = tuple[tuple[str, str], SideValue]


def value_changes(joined: Joined, matching: Matching) -> Iterator[CraftChange | NotCompared]:
    """In the order of the tables of the format; first what only one of the two has. What cannot be read in one of them is not
    compared: it is not absent, and not zero."""
    yield from _lone_parts(joined.old.setup, joined.new.setup, matching)
    unread = {*_unread(joined.old, matching)}, {*_unread(joined.new, Matching())}
    old, new = Facts(_facts(joined.old, matching)), Facts(_facts(joined.new, Matching()))
    claims = {_claim_formula(joined.new, claim.never, {}): claim.subject for claim in joined.new.setup.claims}
    for claim in joined.old.setup.claims:
        subject = claims.get(_claim_formula(joined.old, claim.never, matching.channels), claim.subject)
        old["", f"claim never {subject}"] = "there"
    new |= {("", f"claim never {subject}"): "there" for subject in claims.values()}
    patience = {claim.subject: claim.patience for claim in joined.new.setup.claims}
    for claim in joined.old.setup.claims:
        subject = claims.get(_claim_formula(joined.old, claim.never, matching.channels), "")
        if subject in patience and patience[subject] != claim.patience:
            key = ("", f"claim never {subject}: patience, s")
            old[key], new[key] = claim.patience, patience[subject]
    yield from _other_meanings(joined, matching, {claim.subject for claim in joined.new.setup.claims})
    motors = {("craft", key) for key in ("motor-off", "rotor-free", "hover-throttle", "governed-above")}
    motors |= {(f"channel {c.name}", "failsafe") for c in joined.new.setup.driving("motor")}
    shared = matching.new_names()
    for subject, what in dict.fromkeys([*old, *new]):
        before, now = old.get((subject, what)), new.get((subject, what))
        if before == now or not _comparable(subject, shared):
            continue
        words = f"{subject}: {what}" if subject else what
        sides = zip((before, now), unread, strict=True)
        of = {("", ""), (subject, what), (subject or what.split()[0], "")}
        if any(not value and of & lost for value, lost in sides):
            yield NotCompared(words, "one of the setups has something there that cannot be read")
        else:
            yield CraftChange("written", words, before, now, drives="motor" if (subject, what) in motors else "")


def _other_meanings(joined: Joined, matching: Matching, subjects: set[str]) -> Iterator[CraftChange]:
    """The conditions that a claim of both names, worded alike, and that hold at other times now."""
    for claim in joined.old.setup.claims:
        for name in dict.fromkeys(each.condition for each in f.atoms(claim.never) if isinstance(each, f.Holds)):
            now = matching.conditions.get(name)
            if claim.subject in subjects and now and joined.old.conditions[name] != joined.new.conditions[now]:
                before = _condition_text(joined.old.setup.conditions[name])
                after = _condition_text(joined.new.setup.conditions[now])
                if before != after:  # else what it stands on is another
                    yield CraftChange("written", f"claim never {claim.subject}: condition {now}", before, after)


def _condition_text(condition: Condition) -> str:
    """When it holds, as the file says it."""
    words = [formula_text(condition.when) or ""]
    words += [
        f"{key} {float(time):g} s" for key, time in (("after", condition.after), ("stays", condition.stays)) if time
    ]
    words += [f"until {formula_text(condition.until)}"] if condition.until is not None else []
    return ", ".join([*words, *(["toggles"] if condition.toggles else [])])


def _comparable(subject: str, shared: Mapping[str, set[str]]) -> bool:
    """Of a part that only one of the setups has, it is enough to say that."""
    kind, _, name = subject.partition(" ")
    plural = next((each for each in KINDS if noun(each) == kind), "")
    return not plural or name in shared[plural]


def may_be_there(setup: Setup, kind: str, name: str) -> bool:
    """Whether a part that was not found may stand in what could not be read."""
    return () in setup.broken or setup.is_broken(kind, name)


def is_guessed(setup: Setup, kind: str, name: str) -> bool:
    """Whether a part is a pupil's stick that is there because it cannot be read which ones are lent."""
    return kind == "sticks" and setup.sticks[name].pupil_of is not None and setup.is_broken("trainer", "sticks")


def _unread(side: Side, matching: Matching) -> Iterator[tuple[str, str]]:
    """The facts of which something cannot be read, by subject and what; "" is all that is absent of a subject, or of any."""
    if () in side.setup.broken:
        yield "", ""
    for path in side.setup.broken:
        kind, name = path[0] if path else "", str(path[1]) if len(path) > 1 else ""
        if kind in KINDS and name:
            known: Mapping[str, str] = getattr(matching, str(kind))
            yield f"{noun(str(kind))} {known.get(name, name)}", ""
        elif kind in ("claims", "waivers"):
            yield noun(str(kind)), ""
        elif path:
            yield str(kind), ""
    waits = _waits(side.setup)
    for alarm in side.setup.alarms.values():
        if _alarm_delay(waits, alarm.when) is None:
            yield f"alarm {matching.alarms.get(alarm.name, alarm.name)}", "sounds after, s"


def _lone_parts(old: Setup, new: Setup, matching: Matching) -> Iterator[CraftChange | NotCompared]:
    for kind in ("switches", "sticks", "sensors", "modes", "channels", "timers"):
        known: Mapping[str, str] = getattr(matching, kind)
        for side, others, values in ((old, new, ("there", None)), (new, old, (None, "there"))):
            there = known.keys() if side is old else set(known.values())
            for name in getattr(side, kind):
                if name in there:
                    continue
                if may_be_there(others, kind, name) or is_guessed(side, kind, name):
                    yield NotCompared(f"{noun(kind)} {name}", "one of the setups has a part there that cannot be read")
                else:
                    yield CraftChange("written", f"{noun(kind)} {name}", *values)


def _facts(side: Side, matching: Matching) -> Iterator[Fact]:
    """Everything, each part under the name that it has in the new setup."""
    setup = side.setup

    def name(kind: str, own: str) -> str:
        return str(getattr(matching, kind).get(own, own))

    def each(kind: str, *keys: str) -> Iterator[Fact]:
        for own, part in getattr(setup, kind).items():
            yield from _keys(f"{noun(kind)} {name(kind, own)}", part, *keys)

    yield from _of_tables(setup)
    yield from each("sticks", "trim", "place", "rest, %")
    for switch in setup.switches.values():
        subject, words = f"switch {name('switches', switch.name)}", matching.positions.get(switch.name, {})
        yield (subject, "kind"), switch.kind
        yield (subject, "positions"), ", ".join(words.get(p, p) for p in switch.positions)
        yield (subject, "place"), switch.place
    yield from each("sensors", "shown", "cells")
    yield from each("modes", "idle-up", "aerobatic", "voice")
    yield from _delays(side, matching)
    for channel in setup.channels.values():
        subject = f"channel {name('channels', channel.name)}"
        yield from _keys(subject, channel, "number", "drives")
        yield from _ramps(subject, channel, {m: name("modes", m) for m in setup.modes})
        if setup.failsafe is not None:
            yield (subject, "failsafe"), setup.failsafe.get(channel.name)
    waits = _waits(setup)
    for alarm in setup.alarms.values():
        subject = f"alarm {name('alarms', alarm.name)}"
        yield (subject, "sounds after, s"), _alarm_delay(waits, alarm.when)
        yield from _keys(subject, alarm, "voice", "tone", "vibrate", "repeat, s")
    yield from each("timers", "seconds", "voice", "tone", "vibrate")
    yield ("start", "only warns"), "yes" if setup.start_warns is not None else None
    yield ("intent", "level"), _bound_text(setup.intent.level, matching)
    yield ("intent", "lift"), _bound_text(setup.intent.lift, matching)
    for waiver in setup.waivers:
        text = f"{', '.join(waiver.on or ('everything',))}: {waiver.reason}"
        yield ("", f"waiver of {waiver.rule}"), f"{text}, until {waiver.until}" if waiver.until else text


def _of_tables(setup: Setup) -> Iterator[Fact]:
    """The numbers of the craft, and of what feeds it, and which sticks are lent."""
    tables = [("craft", setup.craft), ("battery", setup.battery), ("swash", setup.swash)]
    packs = [(f"pack {name}", battery) for name, battery in setup.packs.items()]
    for table, part in (*tables, *packs, ("receiver-supply", setup.supply)):
        fields = field_names(part) if part is not None else ()
        yield from _keys(table, part, *(field.replace("_", "-") for field in fields if field not in LEFT_OUT))
    yield ("craft", "pulse centre"), setup.craft.pulse_centre
    yield ("craft", "pulse a percent"), setup.craft.pulse_per_percent
    yield ("field", "elevation-m"), setup.elevation_m
    if setup.trainer is not None and not setup.is_broken("trainer", "sticks"):
        yield ("trainer", "sticks"), ", ".join(setup.trainer.sticks)


def _keys(subject: str, part: object, *keys: str) -> Iterator[Fact]:
    """What a part has under keys, some with a unit behind them."""
    for key in keys:
        yield (subject, key), _side_value(getattr(part, key.partition(",")[0].replace("-", "_")))


def _delays(side: Side, matching: Matching) -> Iterator[Fact]:
    """The delays of conditions that a channel or a mode stands on; those of alarms are told with the alarm."""
    setup = side.setup
    cones = Cones(setup)
    over = 0
    for node in [("channel", c) for c in setup.channels] + [("mode", m) for m in setup.modes]:
        over |= cones.part(node)
    for condition in setup.conditions.values():
        if over & cones.bit(("condition", condition.name)):
            subject = f"condition {matching.conditions.get(condition.name, condition.name)}"
            yield (subject, "after, s"), condition.after or None
            yield (subject, "stays, s"), condition.stays or None


def _ramps(subject: str, channel: Channel, modes: Mapping[str, str]) -> Iterator[Fact]:
    for what in ("ramp_up", "ramp_down"):
        for mode, line in channel.lines.items() if channel.lines else [("", channel.own)]:
            where = f" in {modes[mode]}" if mode else ""
            yield (subject, f"{what.replace('_', '-')}{where}, s"), getattr(line, what) or None


def _waits(setup: Setup) -> dict[str, Fraction | None]:
    """For each condition the longest sum of delays between a control and it; None where something on the way cannot be read."""
    known: dict[str, Fraction | None] = {}
    for condition in setup.conditions.values():  # in dependency order
        parts = [*f.atoms(condition.when), *(f.atoms(condition.until) if condition.until else ())]
        inner = _longest(parts, known)
        known[condition.name] = None if inner is None else condition.after + inner
    return known


def _alarm_delay(waits: Mapping[str, Fraction | None], formula: f.Formula) -> Fraction | None:
    """Likewise of a formula."""
    return _longest(f.atoms(formula), waits)


def _longest(atoms: Iterable[f.Formula], known: Mapping[str, Fraction | None]) -> Fraction | None:
    found = [
        None if isinstance(a, f.Unknown) else known.get(a.condition)
        for a in atoms
        if isinstance(a, f.Holds | f.Unknown)
    ]
    return None if None in found else max(filter(None, found), default=Fraction(0))


def _bound_text(bound: Bound | str | None, matching: Matching) -> SideValue:
    if not isinstance(bound, Bound):
        return bound
    parts = (("at least", bound.at_least), ("at most", bound.at_most), ("value", bound.value))
    said = ", ".join(f"{word} {float(number):g}" for word, number in parts if number is not None)
    return f"{matching.channels.get(bound.channel, bound.channel)} {said}"


def _claim_formula(side: Side, formula: f.Formula, channels: Mapping[str, str]) -> f.Formula:
    """What a claim denies, by the new names; in an order of its own."""
    match formula:
        case f.And(items) | f.Or(items):
            return type(formula)(tuple(sorted((_claim_formula(side, item, channels) for item in items), key=repr)))
        case f.Not(item):
            return f.Not(_claim_formula(side, item, channels))
        case f.OutputCompare(channel, op, number):
            return f.OutputCompare(channels.get(channel, channel), op, number)
        case f.Follows(channel, stick):
            return f.Follows(channels.get(channel, channel), side.controls[stick])
        case f.Predicate():
            return formula
    return side.formula(formula)


def _side_value(value: object) -> SideValue:
    if isinstance(value, bool):
        return "yes" if value else None  # absent and false are the same
    if isinstance(value, int):
        return Fraction(value)
    return value if isinstance(value, Fraction | str) else None
