"""Overrides: which one decides, and whether any ever does."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from setuplint.book.asking import Asking, percent
from setuplint.budget import PAIR
from setuplint.checks.claims import stopping
from setuplint.checks.places import judged_answer
from setuplint.checks.structure import is_said_elsewhere
from setuplint.dataclass import replace
from setuplint.engine.answers import IMPOSSIBLE, Case
from setuplint.engine.literals import Frame, Rails
from setuplint.findings import Finding, Place
from setuplint.plain.evaluate import evaluate
from setuplint.plain.state import OFF
from setuplint.setup import formulas as f
from setuplint.setup.model import Override

DemandCell = tuple[tuple[str, Fraction], ...]  # comparisons that a demand there meets


def readable(ask: Asking) -> list[Override]:
    """The overrides that could be read whole."""
    return [o for o in ask.setup.overrides.values() if o.numbers and o.priority is not None]


def unreadable(ask: Asking) -> list[str]:
    """The names of the others, each of which may be what a rule speaks of."""
    known = {o.name for o in readable(ask)}
    return [*(name for name in ask.setup.overrides if name not in known), *lost_overrides(ask)]


def lost_overrides(ask: Asking) -> list[str]:
    """The names of those of which not even the channel is known."""
    broken = {str(path[1]) for path in ask.setup.broken if path[:1] == ("overrides",) and len(path) > 1}
    return sorted(broken - ask.setup.overrides.keys())


def note_unreadable(ask: Asking, name: str) -> None:
    ask.not_judged(f"overrides.{name} cannot be read", name)


def equals(ask: Asking) -> Iterator[tuple[Override, Override]]:
    """Overrides of one channel and one priority with different numbers that can be active together, each with each that comes
    after it."""
    alike = Counter((o.channel, o.priority) for o in readable(ask))
    known = [o for o in readable(ask) if alike[o.channel, o.priority] > 1]
    for (m, n), verdict in ask.decider.find_pairs([f.Active(o.name) for o in known], equal_pairs(ask, known)):
        if verdict != IMPOSSIBLE:
            yield known[m], known[n]


def equal_pairs(ask: Asking, known: Sequence[Override]) -> Iterator[tuple[int, int]]:
    """The places of two of one channel and one priority with different numbers. OutOfBudget where there are too many: of
    thousands there are millions."""
    left: dict[tuple[str, Fraction | None], deque[int]] = {}
    for place, override in enumerate(known):
        left.setdefault((override.channel, override.priority), deque()).append(place)
    numbers = [override.numbers for override in known]
    for one, override in enumerate(known):
        later = left[override.channel, override.priority]
        later.popleft()
        ask.decider.charge(PAIR * len(later))
        yield from ((one, other) for other in later if numbers[one] != numbers[other])


def override_conflict(ask: Asking) -> Iterator[Finding]:
    """Two overrides of one channel active together, both of the highest priority, with different demands."""
    for one, other in equals(ask):
        higher = [o.name for o in ask.setup.overrides.values()
                  if o.channel == one.channel and (o.priority is None or o.priority > (one.priority or 0))]  # fmt: skip
        together = f.both(f.Active(one.name), f.Active(other.name), *(f.Not(f.Active(o)) for o in higher))
        subject = f"{one.name}, {other.name}"
        limits = one.limits or other.limits
        case = apart_case(ask, one, other, together, subject) if limits else ask.find(together, subject)
        if case is None:
            continue
        yield ask.finding(
            subject,
            f"overrides {one.name} ({one.words(percent)}) and {other.name} ({other.words(percent)}) claim channel "
            f"{one.channel} at the same time with the same priority, and nothing says which wins",
            Place(("overrides", other.name, "priority"), "the same priority"),
            case,
            related=[Place(("overrides", one.name, "priority"), "the same priority")],
            channels=[one.channel],
        )
    for name in unreadable(ask):
        if any(may_meet(ask, name, other) for other in ask.setup.overrides.values()):
            note_unreadable(ask, name)


def may_meet(ask: Asking, unread: str, other: Override) -> bool:
    """Whether one that cannot be read may be active together with another, on one channel."""
    one = ask.setup.overrides.get(unread)
    if one is None:  # which channel it is for may be what cannot be read
        return True
    if one.name == other.name or one.channel != other.channel:
        return False
    return not ask.proved_impossible(f.both(f.Active(one.name), f.Active(other.name)))


def apart_case(ask: Asking, one: Override, other: Override, together: f.Formula, subject: str) -> Case | None:
    """A state in which the two are active together, and the line's demand comes out of them as two different ones."""
    channel = ask.setup.channels[one.channel]
    cells = [
        cell for cell in demand_cells((*one.numbers.values(), *other.numbers.values())) if apart_at(one, other, cell)
    ]

    def rails(frame: Frame) -> Rails:
        active = frame.truth(together)
        sums = [frame.all_of(frame.line_demand(channel, op, x, active[0]) for op, x in cell) for cell in cells]
        return frame.all_of([active, frame.any_of(sums)])

    def shown(case: Case) -> bool:
        memory = case.evaluations[-2].memory if len(case.evaluations) > 1 else OFF
        ties = [replace(case.state, ties={**case.state.ties, channel.name: o.name}) for o in (one, other)]
        was, now = (evaluate(ask.as_decided(), state, memory).demands[channel.name] for state in ties)
        return was != now

    formulas = [together, f.Decides(channel.name, one.name)]
    return judged_answer(ask, rails, ask.decider.cone(formulas), formulas, subject, shown)


def demand_cells(numbers: Iterable[Fraction]) -> Iterator[DemandCell]:
    """Each of the numbers, and what lies between them: a line's demand there comes out of limits in one way."""
    cuts = sorted(set(numbers))
    yield from (((">=", x), ("<=", x)) for x in cuts)
    yield from (((">", x), ("<", y)) for x, y in pairwise(cuts))
    yield from (((("<", cuts[0]),)), ((">", cuts[-1]),))


def apart_at(one: Override, other: Override, cell: DemandCell) -> bool:
    """Whether a line's demand in a cell comes out of the two as different ones."""
    ends = [x for _, x in cell]
    at = sum(ends) / Fraction(len(ends)) if len(ends) > 1 else ends[0] + (1 if cell[0][0] == ">" else -1)
    given = [o.limited(at) if o.value is None else o.value for o in (one, other)]
    return given[0] != given[1]


def override_shadowed(ask: Asking) -> Iterator[Finding]:
    """In no state does it decide; one that stops the motor is belt and braces."""
    for name in unreadable(ask):
        note_unreadable(ask, name)
    motors = [c.name for c in ask.motors]
    for override in readable(ask):
        if override.channel in motors and stopping(ask, override):
            continue
        if ask.possible(f.Decides(override.channel, override.name), override.name):
            continue
        if not ask.never(f.Decides(override.channel, override.name)):
            continue
        never = ask.never(f.Active(override.name))
        decides = f.Decides(override.channel, override.name)
        if never and is_said_elsewhere(ask, override.when, ("overrides", override.name, "when"), decides):
            continue
        why = "its `when` never holds" if never else "whenever it is active, one of higher priority is too"
        yield ask.finding(
            override.name,
            f"override {override.name} never decides channel {override.channel}: {why}",
            ("overrides", override.name),
        )


def override_stuck(ask: Asking) -> Iterator[Finding]:
    """Its `when` holds in every state."""
    for name in lost_overrides(ask):
        note_unreadable(ask, name)
    for override in ask.setup.overrides.values():
        released = f.Not(f.Active(override.name))
        if ask.possible(released, override.name) or not ask.never(released):
            continue
        if is_said_elsewhere(ask, override.when, ("overrides", override.name, "when"), released):
            continue
        yield ask.finding(
            override.name,
            f"override {override.name} is always active: it {'limits' if override.limits else 'decides'} channel "
            f"{override.channel} {where_it_decides(ask, override)}",
            ("overrides", override.name, "when"),
        )


def where_it_decides(ask: Asking, stuck: Override) -> str:
    """Where an override decides that is always active, in words: others of its priority and above may."""
    others = [o for o in ask.setup.acting_on(stuck.channel) if o.name != stuck.name]
    above = [o for o in others if None in (o.priority, stuck.priority) or (o.priority or 0) >= (stuck.priority or 0)]
    return "wherever no other override wins" if above else "everywhere"
