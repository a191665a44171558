"""A mutant, what the linter says of it, what the judges say, and whether they agree."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import setuplint
from setuplint.book import rulebook
from setuplint.findings import Finding, Report
from tests.oracle.meaning import World

from . import moments
from .changes import changed, text_of
from .judging import JUDGES
from .reach import Reach
from .seeds import FAMILIES
from .shapes import TooNear
from .states import Judged

RULES = rulebook.rules()
EXAMPLES = Path(__file__).parents[2] / "examples"
FILE_TROUBLE = {"not-toml", "not-a-setup", "unknown-name", "name-clash", "condition-loop", "curve-unordered"}


@dataclass(frozen=True)
class Mutant:
    example: str
    family: str
    name: str
    text: str


@dataclass
class Outcome:
    """Of one mutant: rules there and found, not there and silent, not judged; and what does not agree."""

    mutant: Mutant
    found: set[str] = field(default_factory=set)
    silent: set[str] = field(default_factory=set)
    open: set[str] = field(default_factory=set)
    wrong: list[str] = field(default_factory=list)
    invalid: bool = False  # not a setup any more: said by the linter, and not judged further


def read(name: str) -> dict[str, Any]:
    return tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"), parse_float=Decimal)


def safe(example: str) -> dict[str, Any]:
    """A safe example, the shared parts that it extends written out in it."""
    own = read(example)
    if "extends" not in own:
        return own
    shared = read(own.pop("extends").removesuffix(".toml"))
    return {**own, **{room: {**table, **own.get(room, {})} for room, table in shared.items() if room != "format"}}


SAFE = sorted(path.stem for path in EXAMPLES.glob("*.toml") if "channels" in read(path.stem))


def drafts(example: str, family: str) -> list[tuple[str, dict[str, Any]]]:
    """The family's mutants of an example by name, each once, after the example as it is."""
    setup = safe(example)
    made = {repr(setup): ("as it is", setup)}  # of two with the same values the texts are the same too
    for name, changes in FAMILIES[family](setup):
        mutant = changed(setup, changes)
        made.setdefault(repr(mutant), (name, mutant))
    return list(made.values())


def mutants(example: str, family: str, every: int = 1, most: int | None = None) -> Iterator[Mutant]:
    """The family's mutants of an example, each once; of all, one in `every`, beginning where the example stands, and at
    `most` so many."""
    made = drafts(example, family)
    if most is not None:
        every = max(every, -(-len(made) // most))
    first = SAFE.index(example) + list(FAMILIES).index(family)
    for n, (name, mutant) in enumerate(made):
        if n and (n + 1 + first) % every == 0:
            yield Mutant(example, family, name, text_of(mutant))


def outcome(mutant: Mutant, report: Report | None = None, but: str | None = None) -> Outcome:
    """Of all rules that have a judge; of what was linted before only those that speak, `but` one."""
    every = report is None
    if report is None:
        report = setuplint.lint_text(mutant.text, f"{mutant.example}.toml")
    result = Outcome(mutant)
    if any(f.rule in FILE_TROUBLE for f in report.findings):
        result.invalid = True
        return result
    spoken: dict[str, list[Finding]] = {}
    for finding in report.findings:
        spoken.setdefault(finding.rule, []).append(finding)
    given_up = {f.subject.split()[0] for f in spoken.get("not-decided", []) if f.subject}
    asked = [rule for rule in JUDGES if every or (rule in spoken and rule != but)]
    if not asked:
        return result
    reach = Reach(World(mutant.text))
    for rule in asked:
        verdict = judged(rule, reach)
        findings = [f for f in spoken.get(rule, []) if f.subject != "swash"]  # its geometry has a test of its own
        if findings and verdict is not True and not verdict:
            # A narrow place that the grid misses: the judge looks where the linter says.
            again = judged(rule, Reach(World(mutant.text), places(reach, findings)))
            verdict = again if again else verdict
            if not verdict and reach.hasty:  # a latch may have caught what patient hands let run out
                verdict = None
        in_time = [f for f in findings if f.timing is not None]
        result.wrong += [
            f"{f.rule} of {f.subject}: {wrong}" for f in in_time if (wrong := moments.not_seen(mutant.text, f))
        ]
        if rule in moments.NEVER and verdict and not findings and moments.takes_time(reach.world):
            verdict = None
        lasting = [f for f in in_time if rule == "start-unguarded" and (f.timing.since == 0 or f.timing.until is None)]  # type: ignore[union-attr]
        settled = [f for f in findings if f.timing is None or f in lasting]
        settle(result, rule, verdict, settled, gave_up=rule in given_up)  # the first instant is no lag
    return result


def judged(rule: str, reach: Reach) -> Judged | str:
    """The verdict; of all but notices that are not about packs that of each of them together."""
    of_each = "packs" in RULES[rule].needs or RULES[rule].signal != "notice"
    verdicts = [verdict_of(rule, each) for each in (reach, *(reach.with_packs if of_each else ()))]
    if len(verdicts) == 1 or True in verdicts:
        return True if True in verdicts else verdicts[0]
    open_ = next((v for v in verdicts if v is None or isinstance(v, str)), False)
    return open_ if open_ is not False else frozenset().union(*(v for v in verdicts if isinstance(v, frozenset)))


def verdict_of(rule: str, reach: Reach) -> Judged | str:
    try:
        return JUDGES[rule](reach)
    except TooNear:
        return "too near"


def places(reach: Reach, findings: list[Finding]) -> dict[str, set[Fraction]]:
    """The sticks, knobs and sensor values of the findings' cases."""
    found: dict[str, set[Fraction]] = {}
    for finding in findings:
        for controls in (finding.witness, *finding.steps):
            for name, value in controls.items():
                if not isinstance(value, str) and name in {*reach.world.analogs, *reach.world.sensors}:
                    found.setdefault(name, set()).add(Fraction(str(value)))
    return found


def settle(result: Outcome, rule: str, verdict: Judged | str, findings: list[Finding], gave_up: bool) -> None:
    if verdict is None or verdict == "too near" or gave_up:
        result.open.add(rule)
    elif isinstance(verdict, frozenset):
        said = {f.subject.partition(" with ")[0] for f in findings}
        if {one for s in said for one in s.split(", ")} >= verdict and bool(said) == bool(verdict):
            (result.found if verdict else result.silent).add(rule)
        else:
            result.wrong.append(f"{rule}: judged of {sorted(verdict)}, said of {sorted(said)}")
    elif bool(findings) == verdict:
        (result.found if verdict else result.silent).add(rule)
    else:
        result.wrong.append(f"{rule}: {'there, and not found' if verdict else 'said, and not there'}")
