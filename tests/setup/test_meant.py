"""Slips of numbers, units and words: what was meant is offered, and never a number that is wrong by powers of ten."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import setuplint
from setuplint.server.corrections import corrections
from setuplint.server.parsed import ParsedText
from setuplint.setup.meant import UNITS, number_meant

REFERENCE = (Path(__file__).parents[2] / "examples" / "reference.toml").read_text(encoding="utf-8")
OFFERED = {
    "cells = 6": [('"6S"', "6"), ("6S", "6"), ("6.0", "6"), ("6 cells", "6"), ("6V", ""), ("99S", "")],
    "capacity-mah = 2600": [
        *[(said, "2600") for said in ("2600mAh", "2600 mAh", '"2600 mAh"', "26OO", '"2.6 Ah"', "2.6Ah")],
        *[(said, "") for said in ("2,600", "2.6A", "2 600", '"2,600 mAh"')],
    ],
    "resistance-mohm = 21": [("21mOhm", "21"), ('"0,021 Ohm"', "21"), ("21 µs", "")],
    "hover-throttle = 16": [
        ('"58 of 100"', "16"),
        ("16 %", "16"),
        ('"1580 µs"', ""), ('"+16 % (58 of 100, 1580 µs)"', "16"), ('"+16 % (59 of 100)"', ""),
    ],
    "value = -100\n": [("-1OO\n", "-100"), ("-l00\n", "-100"), ("−100 %\n", "-100"), ("1000us\n", ""), ("-10000%\n", "")],
    "motor = -100 ": [("-1OO ", "-100"), ("-100% ", "-100")],
    "[[-100, 45]": [("[[-100, 4S]", ""), ("[[-1OO, 45]", "-100")],
    "seconds = 270": [("4:30", "270"), ('"4:30"', "270"), ("4.5min", "270"), ("270s", "270")],
    "after = 1.5 ": [("1,5 ", "1.5"), ("1.5s ", "1.5"), ("1500ms ", "1.5"), ('"1,5 s" ', "1.5")],
    "shown = true": [("yes", "true"), ('"no"', "false"), ("1", "true"), ("True", "true"), ("maybe", "")],
    'when = "hold is on"': [
        *[(f'"{said}"', meant) for said, meant in (("HOLD is on", "hold"), ("hold is ON", "on"), ("hold ist on", "is"))],
        *[(f'"hold is on {said} save is pulled"', meant) for said, meant in (("annd", "and"), ("AND", "and"), ("||", "or"))],
        *[(f'"pack < {said}"', meant) for said, meant in (("7,1", "7.1"), ("21.6 V", "21.6"), ("2l.6", "21.6"))],
        *[(f'"(pack < {said})"', meant) for said, meant in (("21.6V", "21.6"), ("21,600", ""), ("2.6A", ""))],
        ('"throttle < −95 %"', "-95"), ('"throttle =< -95"', "<="),
    ],
}  # fmt: skip


@pytest.mark.quick(8)
@pytest.mark.parametrize(
    ("line", "said", "meant"), [(line, *pair) for line, pairs in OFFERED.items() for pair in pairs]
)
def test_what_is_offered_in_lint_and_in_the_editor(line: str, said: str, meant: str) -> None:
    assert line in REFERENCE
    key, equals, _ = line.partition(" = ")
    text = REFERENCE.replace(line, f"{key}{equals}{said}" if equals else said, 1)
    report = setuplint.lint_text(text)
    finding = next(f for f in report.findings if f.rule in ("not-toml", "not-a-setup"))
    assert ("id you mean" in finding.remedy) == bool(meant), finding.remedy
    if meant:
        assert f"id you mean {meant}?" in finding.remedy
        where = report.where(finding.primary)
        found = [new for new, _ in corrections(where.document, where.span, finding, problem_count)]
        assert found in ([meant], []) or said.count("−") + said.count("%") > 1  # two slips in one word stay a problem


def problem_count(text: str) -> int:
    return ParsedText(text, "x.toml").problem_count


@given(st.decimals(-9999, 9999, places=2), st.sampled_from(sorted(UNITS)), st.data())
def test_letters_are_the_digits_that_they_look_like_or_nothing(number: Decimal, unit: str, data: st.DataObject) -> None:
    said = "".join(data.draw(st.sampled_from({"0": "0Oo", "1": "1lI"}.get(c, c))) for c in str(number))
    assert number_meant(said, unit) in (Fraction(number), None)
