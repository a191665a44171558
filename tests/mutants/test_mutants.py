"""Every seeded hazard found: mutants of the safe examples, judged by brute force, against the linter, in both directions.

A judge knows RULES.md and the oracle of tests/oracle alone. Each family of mutations is applied wherever it can be; a run
takes one mutant in so many, always the same ones, fewer of a family that is large, and `python -m tests.mutants` all of them.
"""

from __future__ import annotations

from itertools import islice

import pytest

from .changes import text_of
from .judging import JUDGES
from .mutants import SAFE, Mutant, mutants, outcome, safe
from .seeds import FAMILIES
from .tally import Tally

EVERY, MOST, TAKEN = 12, 6, 4  # one in so many, or so many evenly apart; of these the first
# As long to judge as all others together: of these families, two of which show in it alone what a rule speaks of.
LARGEST, FEW = "lapwing", ("other switches", "armed rescues", "conditions changed", "packs", "modes", "failsafe")
CASES = [(family, example) for family in FAMILIES for example in SAFE if example != LARGEST or family in FEW]


@pytest.mark.quick(3)
@pytest.mark.parametrize(("family", "example"), CASES)
def test_the_linter_and_the_judges_agree(example: str, family: str, record_property: pytest.RecordProperty) -> None:
    tally = Tally()
    for mutant in islice(mutants(example, family, 2 * EVERY if example == LARGEST else EVERY, MOST), TAKEN):
        tally.add(outcome(mutant))
    record_property("mutants", tally.plain())
    assert tally.wrong == []


@pytest.mark.quick(3)
@pytest.mark.parametrize("example", SAFE)
def test_the_judges_find_nothing_in_a_safe_example(example: str) -> None:
    """What they do not judge there is what the file does not give."""
    result = outcome(Mutant(example, "none", "as it is", text_of(safe(example))))
    assert (result.wrong, result.found) == ([], set())
    assert len(result.silent) > len(JUDGES) - 5


def test_most_rules_have_a_judge() -> None:
    assert len(JUDGES) >= 70
