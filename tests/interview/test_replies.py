"""What a reply may look like, and what it then means."""

from __future__ import annotations

from fractions import Fraction

import pytest

from setuplint.interview.data import interview
from setuplint.interview.functions import FUNCTIONS
from setuplint.interview.replies import reading, shown_answer
from setuplint.interview.terms import decimal_text, term, text_term, value


@pytest.mark.parametrize(
    ("reader", "reply", "means"),
    [
        ("output", "16", 16),
        ("output", " +16 % ", 16),
        ("output", "58 of 100", 16),
        ("output", "58/100", 16),
        ("output", "1580 µs", 16),
        ("output", "1580us", 16),
        ("output", "−20,5", Fraction("-20.5")),
        ("output", "+16\u00a0% (58\u00a0of\u00a0100, 1580 µs)", 16),
        ("output", "+12.35 % (56.17 of 100, 1561.73 µs)", Fraction("12.35")),  # rounded
        ("output", "+16 % (16 of 100)", None),
        ("output", "151", None),
        ("output", "16 of 50", None),
        ("count", "6S", 6),
        ("count", "6.5", None),
        ("charge", "2.6 Ah", 2600),
        ("charge", "450 mAh", 450),
        ("charge", "2,600", None),  # some write 2600 so
        ("charge", "2.600 mAh", None),
        ("charge", "2,600 Ah", 2600),  # no pack has a thousand times that
        ("current", "27A", 27),
        ("current", "850 mA", Fraction("0.85")),
        ("resistance", "21 mΩ", 21),
        ("resistance", "0.021 Ω", 21),
        ("volts", "7,4V", Fraction("7.4")),
        ("seconds", "1,5 s", Fraction("1.5")),
        ("lift", "the unit", "unit"),
        ("lift", "+45 %", 45),
        ("name", "Idle Up 1", "idle-up-1"),
        ("name", "lost", None),
        ("name", "throttle", None),
        ("names", "Normal, idle_up", ["normal", "idle-up"]),
        ("names", "a, a", None),
        ("label", "x\ny", None),
    ],
)
def test_readings(reader: str, reply: str, means: object) -> None:
    assert reading(interview(), reader, reply) == means


def test_what_is_shown_is_understood_again() -> None:
    for question in interview().questions:
        if question.reader in (
            "output",
            "charge",
            "current",
            "resistance",
            "volts",
            "seconds",
            "share",
            "percent",
            "count",
        ):
            words = shown_answer(interview(), question, Fraction(12))
            assert reading(interview(), question.reader, words) == 12, question.key


def test_terms_are_exact_and_what_is_not_known_stays_so() -> None:
    def worth(text: str) -> object:
        return value(term(text), {"x": Fraction(1, 3), "no": False}.get, FUNCTIONS)

    assert worth("x * 3 == 1") is True
    assert worth("0.1 + 0.2 == 0.3") is True
    assert [worth(text) for text in ("nothing + 1", "nothing < 1", "no * 2", "x / 0")] == [None] * 4
    assert worth("0 in [no]") is False
    assert value(text_term("a {x} {nothing}"), {"x": "b"}.get, FUNCTIONS) is None
    assert decimal_text(Fraction(-1, 8)) == "-0.125"
    assert decimal_text(Fraction(2, 3)) == "0.6666666666"
    with pytest.raises(ValueError, match="is no term"):
        term("__import__('os').system('x')")
