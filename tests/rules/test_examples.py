"""Every example of every rule's file: the rule speaks on it, or is silent, and no rule beside it but those named."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.checks import book
from tests.rules.edits import REFERENCE, beside_text, example_text

EXAMPLES = [
    pytest.param(name, example, id=f"{name}-{number}-{'speaks' if example.speaks else 'silent'}")
    for name in book.rules()
    for number, example in enumerate(book.page(name).examples)
]


# Rules of thumb, and arithmetic on estimates; all others are proved.
ADVICE = {"lift-before-level", "voltage-alarm-nervous", "voltage-alarm-late", "flight-time-too-long"}


def spoken(text: str, beside: str | None = None) -> set[str]:
    """The rules that speak, on either of two setups; what is advice is marked as that."""
    texts = {"reference.toml": text} | ({} if beside is None else {"beside.toml": beside})
    found = [finding for report in setuplint.lint_together(texts) for finding in report.findings]
    assert {x.rule for x in found if x.status == "advice"} == {x.rule for x in found} & ADVICE
    return {x.rule for x in found}


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_example(name: str, example: book.Example) -> None:
    companions = set(example.also) & set(book.rules())
    assert spoken(example_text(example), beside_text(example)) == companions | ({name} if example.speaks else set())


def test_the_reference_is_silent() -> None:
    assert spoken(REFERENCE.read_text(encoding="utf-8")) == set()
