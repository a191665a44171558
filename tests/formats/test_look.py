"""Width, wrapping and escapes."""

from __future__ import annotations

from unicodedata import category

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setuplint.formats.terminal import plain, width, wrap

TEXTS = st.text(st.characters(exclude_categories=()), max_size=80)


@given(TEXTS)
def test_escaped_text_prints_as_it_is_and_stays_so(text: str) -> None:
    shown = plain(text)
    assert {category(char) for char in shown} & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"} == set()
    assert plain(shown) == shown


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\tb", "a\\tb"),
        ("\x1b[2J", "\\x1b[2J"),
        ("\x9b", "\\x9b"),
        ("\u202e", "\\u202e"),
        ("\udc80", "\\udc80"),
        ("\U000e0001", "\\U000e0001"),
        ("µ – é 日", "µ – é 日"),
    ],
)
def test_escapes(text: str, shown: str) -> None:
    assert plain(text) == shown


@given(st.lists(st.text("abc 日é", min_size=1, max_size=30), max_size=20), st.integers(10, 60))
def test_wrapping_keeps_every_word_and_the_width(words: list[str], room: int) -> None:
    text = " ".join(words)
    lines = list(wrap(text, room, "  ", "    "))
    assert " ".join(lines).split() == text.split()
    for line in lines:
        assert width(line) <= room or len(line.split()) == 1


def test_a_number_is_not_parted_from_its_unit() -> None:
    assert list(wrap("a channel gives +55\u00a0% now", 18)) == ["a channel gives", "+55 % now"]
