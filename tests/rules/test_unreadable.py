"""Of every rule one key in so many, made unreadable where it speaks; `python -m tests.rules.unreadable` tries all."""

from __future__ import annotations

import pytest

from tests.rules.unreadable import judging, silences, silent_without_two

EVERY = 24
PAIRS = 5


@pytest.mark.quick(6)
@pytest.mark.parametrize("rule", judging())
def test_what_cannot_be_read_is_not_silence(rule: str) -> None:
    assert silences(rule, EVERY, sum(map(ord, rule))) == []


@pytest.mark.quick(6)
@pytest.mark.parametrize("rule", judging())
def test_nor_are_two_keys_at_once(rule: str) -> None:
    assert list(silent_without_two(rule, PAIRS)) == []
