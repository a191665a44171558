"""Of every rule one key in so many, made unreadable where it speaks; `python -m tests.rules.unreadable` tries all."""

from __future__ import annotations

import pytest

from tests.rules.unreadable import judging, silences

EVERY = 24


@pytest.mark.quick(6)
@pytest.mark.parametrize("rule", judging())
def test_what_cannot_be_read_is_not_silence(rule: str) -> None:
    assert silences(rule, EVERY, sum(map(ord, rule))) == []
