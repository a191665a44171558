"""A formula written from its tree means the same again."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setuplint.setup import claim_formula
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import decimal_text, formula_text, with_leaf_replaced

from .whole import edited, load

SETUP = load(edited())[1].setup

numbers = st.decimals(-100, 100, places=2).map(Fraction)
leaves: st.SearchStrategy[f.Formula] = st.one_of(
    st.sampled_from([f.SwitchIs("hold", "on"), f.Lost("pack"), f.Holds("low"), f.ModeIs("sport")]),
    st.builds(f.Compare, st.just("throttle"), st.sampled_from(("<", "<=", ">", ">=")), numbers),
)
formulas = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.lists(inner, min_size=2, max_size=3).map(lambda items: f.And(tuple(items))),
        st.lists(inner, min_size=2, max_size=3).map(lambda items: f.Or(tuple(items))),
        inner.map(f.Not),
    ),
    max_leaves=12,
)


@given(formulas)
def test_read_again_it_is_the_same_tree(formula: f.Formula) -> None:
    text = formula_text(formula)
    assert text is not None
    assert claim_formula(text, SETUP) == formula


@pytest.mark.parametrize(
    "text",
    [
        "hold is not on and (pack is lost or low) and mode is not sport",
        "not (hold is on and pack is lost) or not low",
        "throttle < -95.5",
        "dial >= 0.05 or pack is not lost",
    ],
)
def test_no_more_parentheses_than_it_takes(text: str) -> None:
    assert formula_text(claim_formula(text, SETUP)) == text


def test_what_no_file_can_say_is_not_written() -> None:
    assert formula_text(f.both(f.Holds("low"), f.Predicate("flying"))) is None
    assert formula_text(f.Not(f.Unknown("why"))) is None
    assert formula_text(f.TRUE) is None
    assert formula_text(f.Compare("throttle", "<", Fraction(1, 3))) is None


def test_numbers_as_formulas_write_them() -> None:
    found = [decimal_text(Fraction(text)) for text in ("21.60", "-0.05", "0", "-100", "1e-6")]
    assert found == ["21.6", "-0.05", "0", "-100", "0.000001"]


def test_a_part_is_replaced_wherever_it_stands() -> None:
    old, new = f.Holds("low"), f.Lost("pack")
    other = f.SwitchIs("hold", "on")
    assert with_leaf_replaced(f.Or((f.Not(old), f.And((other, old)))), old, new) == f.Or(
        (f.Not(new), f.And((other, new)))
    )
