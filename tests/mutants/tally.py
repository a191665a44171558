"""What a run of mutants comes to, rule by rule."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from setuplint.book import rulebook

from .judging import JUDGES
from .mutants import Outcome


@dataclass
class Tally:
    """Counts of mutants by rule: the hazard there and found, not there and silent, not judged."""

    mutants: int = 0
    invalid: int = 0
    found: Counter[str] = field(default_factory=Counter)
    silent: Counter[str] = field(default_factory=Counter)
    open: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def add(self, outcome: Outcome) -> None:
        self.mutants += 1
        self.invalid += outcome.invalid
        self.found.update(outcome.found)
        self.silent.update(outcome.silent)
        self.open.update(outcome.open)
        where = f"{outcome.mutant.example}, {outcome.mutant.family}: {outcome.mutant.name}"
        self.wrong += [f"{where}: {what}" for what in outcome.wrong]

    def merge(self, other: Tally) -> None:
        self.mutants += other.mutants
        self.invalid += other.invalid
        self.found += other.found
        self.silent += other.silent
        self.open += other.open
        self.wrong += other.wrong

    def plain(self) -> dict[str, Any]:
        """As plain values, which a test's report can carry from one process to another."""
        return {key: dict(value) if isinstance(value, Counter) else value for key, value in vars(self).items()}

    @classmethod
    def of(cls, plain: dict[str, Any]) -> Tally:
        counts = {key: Counter(plain[key]) for key in ("found", "silent", "open")}
        return cls(plain["mutants"], plain["invalid"], **counts, wrong=list(plain["wrong"]))

    def lines(self) -> Iterable[str]:
        found = sum(self.found.values())
        yield (
            f"{self.mutants} mutants of the safe examples, {self.invalid} of them no setups any more (said); "
            f"{found} hazards there and found, {sum(self.silent.values())} times not there and silent, "
            f"{len(self.wrong)} disagreements"
        )
        yield f"{'rule':<28} {'found':>6} {'silent':>6} {'not judged':>10}"
        for rule in sorted(JUDGES, key=lambda r: (-self.found[r], r)):
            yield f"{rule:<28} {self.found[rule]:>6} {self.silent[rule]:>6} {self.open[rule]:>10}"
        yield "not judged by brute force: " + ", ".join(sorted(set(rulebook.rules()) - set(JUDGES)))
        yield from (f"DISAGREEMENT {line}" for line in self.wrong)
