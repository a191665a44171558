"""Every example of every rule's file: the rule speaks on it, or is silent, and no rule beside it but those named."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.checks import book
from tests.rules.edits import REFERENCE, example_text

EXAMPLES = [
    pytest.param(name, example, id=f"{name}-{number}-{'speaks' if example.speaks else 'silent'}")
    for name in book.rules()
    for number, example in enumerate(book.page(name).examples)
    if example.beside is None
]


def spoken(text: str) -> set[str]:
    return {finding.rule for finding in setuplint.lint_text(text, name="reference.toml").findings}


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_example(name: str, example: book.Example) -> None:
    text = example_text(example)
    companions = set(example.also) & set(book.rules())
    assert spoken(text) == companions | ({name} if example.speaks else set())


def test_the_reference_is_silent() -> None:
    assert spoken(REFERENCE.read_text(encoding="utf-8")) == set()
