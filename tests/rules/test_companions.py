"""What other rules say of a rule's examples is right too: worked out by the judges of tests/mutants, which know RULES.md and the
brute-force oracle alone. So a new rule is named in no other rule's file."""

from __future__ import annotations

import pytest

from setuplint.book import rulebook
from setuplint.club.examples import text_of
from tests.mutants.mutants import Mutant, outcome

EXAMPLES = [
    pytest.param(name, number, id=f"{name}-{number}")
    for name in rulebook.rules()
    for number, example in enumerate(rulebook.page(name).examples)
    if example.beside is None
]


@pytest.mark.quick(25)
@pytest.mark.parametrize(("name", "number"), EXAMPLES)
def test_what_the_other_rules_say_is_right(name: str, number: int) -> None:
    """Whether they say enough is what the mutants ask; here none may say what is not there."""
    text = text_of(rulebook.page(name).examples[number])
    found = outcome(Mutant("reference", name, str(number), text))
    assert [line for line in found.wrong if not line.startswith(f"{name}:") and is_said_in_vain(line)] == []


def is_said_in_vain(line: str) -> bool:
    return line.endswith("said, and not there") or "judged of []" in line
