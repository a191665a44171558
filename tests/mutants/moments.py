"""Findings in time: the oracle's simulator walks each case, and must see what the finding says, for as long as it says."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book import rulebook
from setuplint.engine.answers import Timing
from setuplint.findings import Finding
from setuplint.plain.settings import after, first
from setuplint.plain.state import State
from tests.decide.against import Both
from tests.oracle.formula import Formula, channels_in
from tests.oracle.meaning import State as Instant
from tests.oracle.meaning import World
from tests.oracle.simulator import TICK, Simulator

# Said only if every moment is proved: where something takes time, a judge of settled states cannot tell.
NEVER = {"override-shadowed", "override-stuck", "condition-constant", "mode-unreachable", "alarm-never-sounds"}

PATIENCE = {"start-unguarded": Fraction(0)}  # of rules that name none: any moment counts


def takes_time(world: World) -> bool:
    return any(c.after or c.stays for c in world.conditions.values())


def not_seen(text: str, finding: Finding) -> str:
    """What the oracle does not see of a finding in time; nothing where it sees it all."""
    assert finding.timing is not None
    both, rule = Both(text), rulebook.rules()[finding.rule]
    formula = finding.subject if finding.rule == "claim-broken" else rule.never
    patience = (
        rule.limits["patience"].value if "patience" in rule.limits else PATIENCE.get(finding.rule, Fraction(1, 2))
    )
    since, until = finding.timing.since, finding.timing.until
    if until is not None and until - since <= patience:
        return f"{finding.rule}: no longer than {float(patience)} s"
    parsed = None if formula is None else both.world.parse(formula)
    for t, instant in instants(both, finding, finding.timing):
        if not shown(both.world, finding, parsed, instant):
            return f"{finding.rule}: not seen at {float(t)} s"
    return ""


def instants(both: Both, finding: Finding, timing: Timing) -> Iterator[tuple[Fraction, Instant]]:
    """Every instant from when it begins until it ends; or, for good, two seconds long."""
    states = list(states_of(both, finding))
    coming = list(zip(timing.at, states, strict=True))[1:]
    simulator = Simulator(both.world, both.controls(states[0]), settled=False, outputs=False)
    until = timing.since + 2 if timing.until is None else timing.until
    while simulator.t < until:
        if simulator.t >= timing.since:
            yield simulator.t, simulator.now
        due = bool(coming) and coming[0][0] <= simulator.t + TICK
        simulator.advance(both.controls(coming.pop(0)[1]) if due else None)


def states_of(both: Both, finding: Finding) -> Iterator[State]:
    """The state after each step; what the steps say nothing of is at rest."""
    setup = both.decider.setup
    state: State | None = None
    for step in finding.steps:
        moved = {name: where if isinstance(where, str) else Fraction(str(where)) for name, where in step.items()}
        if state is None:
            moved = {name: where for name, where in moved.items() if where != "unheard"}
        state = first(setup, moved, heard=False) if state is None else after(setup, state, moved)
        yield state


def shown(world: World, finding: Finding, formula: Formula | None, instant: Instant) -> bool:
    """Whether some choice of ties and smoothings gives the outputs that the finding gives, and makes its formula true."""
    channels = {*finding.outputs, *(channels_in(formula) if formula is not None else ())}
    for choice in world.choices(instant, channels):
        given = {name: world.output(name, instant, choice) for name in finding.outputs}
        if given == finding.outputs and (formula is None or world.holds(formula, instant, choice) is True):
            return True
    return False
