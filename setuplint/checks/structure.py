"""Parts that do nothing, and guarantees that do not hold."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from setuplint.book.asking import Asking, both_scales, percent, seconds
from setuplint.checks.claims import line_place, speaking_channels
from setuplint.checks.listening import leaves
from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.engine.decider import Decider
from setuplint.findings import Finding, Place, Remark
from setuplint.graph import unused_parts, uses
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import with_leaf_replaced
from setuplint.setup.model import Claim, Condition, Path, Setup
from setuplint.setup.problems import dotted
from setuplint.setup.states import claim_path, setup_formulas

MOST_RELATED = 20
LEFT_OPEN = f.Unknown("left open")


def condition_constant(ask: Asking) -> Iterator[Finding]:
    """A condition with one value in every state; those that only follow from it are told with it."""
    cause: dict[str, str] = {}  # a constant condition: the first one that it stands on
    values: dict[str, bool] = {}
    opened = OpenedConditions(ask)
    for name, condition in ask.setup.conditions.items():  # those it stands on come first
        value = constant_value(ask, name)
        if value is not None:
            under = [c for c in named_by(condition) if c in cause]
            values[name] = value
            cause[name] = name if not under or opened.still(name, value) else cause[under[0]]
            if cause[name] == name:
                opened.open(name)
    for name, value in values.items():
        if cause[name] != name or out_of_range(ask, ("conditions", name)):
            continue
        others = [other for other in values if other != name and cause[other] == name]
        also = (
            f", and for that reason neither {'does' if len(others) == 1 else 'do'} {', '.join(others)}"
            if others
            else ""
        )
        holds = "always holds" if value else "never holds"
        yield ask.finding(
            name,
            f"condition {name} {holds}{why_constant(ask, ask.setup.conditions[name], value)}: it never changes{also}",
            ("conditions", name, "when"),
            related=[Place(("conditions", other, "when"), "stands on it") for other in others[:MOST_RELATED]],
        )


class OpenedConditions:
    """The setup with some conditions open: what is constant there too is so by itself."""

    def __init__(self, ask: Asking) -> None:
        self.ask, self.names, self.left = ask, set[str](), MOST_RELATED
        self.decider: Decider | None = None

    def open(self, name: str) -> None:
        self.names.add(name)
        if self.decider is not None:
            self.decider.let_go()
            self.decider = None

    def still(self, name: str, value: bool) -> bool:
        """Whether a condition has that one value whatever those have; counted: when there were many, that it has not."""
        if self.decider is None:
            if not self.left:
                return False
            self.left -= 1
            self.decider = self.ask.decider.of_variant(with_open_conditions(self.ask.setup, self.names))
        return self.decider.never_holds(f.Not(f.Holds(name)) if value else f.Holds(name))


def constant_value(ask: Asking, name: str) -> bool | None:
    """The one value that a condition can have; None where it has both, or it is not known."""
    for value in (True, False):
        formula = f.Holds(name) if value else f.Not(f.Holds(name))
        if not ask.possible(formula, name):
            return not value if ask.never(formula) else None
    return None


def named_by(condition: Condition) -> Iterator[str]:
    for formula in (condition.when, condition.until):
        if formula is not None:
            yield from (a.condition for a in f.atoms(formula) if isinstance(a, f.Holds))


def why_constant(ask: Asking, condition: Condition, value: bool) -> str:
    """What keeps a latch where it is; of a plain condition its formula says all."""
    if condition.until is None or value:
        return ""
    if ask.never(condition.when):
        return ", because nothing sets it"
    if ask.never(f.both(condition.when, f.Not(condition.until))):
        return ", because its `until` holds whenever its `when` does"
    return ""


def is_said_elsewhere(ask: Asking, formula: f.Formula, path: Path, never: f.Formula) -> bool:
    """Whether `never`, which is impossible, is so only by what other rules report of the formula at a path: a condition that it
    rests on is constant, or a number in it is out of range. The engine is asked: is it impossible with these left open too?"""
    constant = ask.said("condition-constant")
    resting = {leaf.atom.condition for leaf in leaves(ask.setup, formula, path, conditions=True)
               if isinstance(leaf.atom, f.Holds)}  # fmt: skip
    opened = {name for name in resting if name in constant or out_of_range(ask, ("conditions", name))}
    own = out_of_range(ask, path)
    if not opened and not own:
        return False
    setup = with_open_conditions(ask.setup, opened)
    if own:
        setup = setup.with_part(str(path[0]), str(path[1]), when=with_open_comparisons(ask, formula))
    there = ask.decider.of_variant(setup)
    impossible = there.find(never).impossible
    there.let_go()
    return not impossible


def with_open_conditions(setup: Setup, names: Collection[str]) -> Setup:
    """The setup with conditions of which nothing is known."""
    opened = {name: replace(setup.conditions[name], when=LEFT_OPEN, until=None) for name in names}
    return replace(setup, conditions={**setup.conditions, **opened})


def with_open_comparisons(ask: Asking, formula: f.Formula) -> f.Formula:
    """The formula with every comparison left open that is the same in all states."""
    for atom in f.atoms(formula):
        if isinstance(atom, f.Compare) and (ask.proved_impossible(atom) or ask.proved_impossible(f.Not(atom))):
            formula = with_leaf_replaced(formula, atom, LEFT_OPEN)
    return formula


def out_of_range(ask: Asking, path: Path) -> bool:
    """Whether value-out-of-range speaks of a formula at or under a path; its subjects begin with where they stand."""
    said = ask.said("value-out-of-range")
    ends = ((each, end.start()) for each in said for end in re.finditer("[.:]", each))
    return dotted(path) in ask.once("places out of range", lambda: {each[:end] for each, end in ends})


def part_unused(ask: Asking) -> Iterator[Finding]:
    """Curves and conditions that nothing uses; sensors that no formula names and no screen shows."""
    setup = ask.setup
    idle = unused_parts(setup)
    found = {"curve": idle.curves, "condition": idle.conditions, "sensor": idle.sensors}
    for kind, names in found.items():
        ask.unread(f"{kind}s")
        what = "no formula names it, and no screen shows it" if kind == "sensor" else "nothing uses it"
        for name in names:
            if (f"{kind}s", name) in setup.brought:
                continue  # another craft may need it
            yield ask.finding(name, f"{kind} {name} does nothing: {what}", Place((f"{kind}s", name), key=True))
    doubt = why_uses_are_not_known(setup)
    used = {use.used for use in uses(setup)}
    tables = {"curve": setup.curves, "condition": setup.conditions, "sensor": setup.sensors}
    for kind, table in tables.items() if doubt else ():
        lost = [str(path[1]) for path in setup.broken if path[0:1] == (f"{kind}s",) and len(path) == 2]
        for name in sorted({*table, *lost}):
            shown = kind == "sensor" and name in table and setup.sensors[name].shown
            brought = (f"{kind}s", name) in setup.brought
            if (kind, name) in used or shown or brought or name in found[kind]:
                continue
            if not ask.unread(f"{kind}s", name, subject=name):
                ask.not_judged(doubt, name)


def why_uses_are_not_known(setup: Setup) -> str:
    """What cannot be read, or a name in a formula that names nothing: it may stand for any part. Empty where there is none."""
    if setup.broken:
        broken = min(setup.broken, key=lambda path: (-len(path), [str(step) for step in path]))
        return f"{dotted(broken) or 'the file'} cannot be read, and may use it"
    atoms = (atom for formula in setup_formulas(setup) for atom in f.atoms(formula))
    return next((atom.because for atom in atoms if isinstance(atom, f.Unknown)), "")


def claim_broken(ask: Asking) -> Iterator[Finding]:
    """A guarantee of the file's own that is false in some state."""
    for claim in ask.setup.claims:
        channels = speaking_channels(ask, claim.never)
        ask.remarks += ramps(ask, claim, channels)
        case = ask.noted(ask.answer(claim.never, patience=claim.patience), claim.subject)
        if case is None:
            continue
        place = claim_path(ask.setup, claim)
        yield ask.finding(
            claim.subject,
            claim_message(ask, claim, str(place[-1]), case, channels),
            Place(place),
            case,
            related=list(deciding_place(ask, case, channels)),
            channels=channels,
        )


def ramps(ask: Asking, claim: Claim, channels: Sequence[str]) -> Iterator[Remark]:
    """A claim is about where its channels go: for each, how long it can take to get there, where that is long."""
    for name in channels:
        time = ask.decider.longest_ramp(name)
        if time > claim.patience:
            yield Remark(
                "ramps",
                f"claim “{claim.subject}” speaks of where {name} goes, and its ramp can take {seconds(time)} to get there",
                Place(("claims", claim.index)),
            )


def claim_message(ask: Asking, claim: Claim, key: str, case: Case, channels: list[str]) -> str:
    text = claim.subject if key == "never" else claim.subject.removeprefix("not (").removesuffix(")")
    said = f"“{text}” must {key} be so, and there is a state in which it is{'' if key == 'never' else ' not'}"
    motors = [c.name for c in ask.motors]
    shown = [
        f"{name} at {both_scales(value) if name in motors else percent(value)}"
        for name, value in case.evaluation.outputs.items()
        if name in channels and value is not None
    ]
    said += f", with {' and '.join(shown)}" if shown else ""
    return f"{said} ({claim.because})" if claim.because else said


def deciding_place(ask: Asking, case: Case, channels: list[str]) -> Iterator[Place]:
    """What decides the outputs that a claim speaks of, in the case found."""
    for name in channels:
        override = case.evaluation.deciders.get(name)
        if override is not None:
            yield Place(("overrides", override), f"decides {name} here")
        else:
            place = line_place(ask, name, case)
            yield Place(place.path, f"{name}'s own line decides here")
