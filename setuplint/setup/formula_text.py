"""A formula's tree as text again, for remedies: read again it is the same tree."""

from __future__ import annotations

from fractions import Fraction

from setuplint.setup import formulas as f

ALTERNATIVES, TOGETHER, DENIED = range(3)  # how tightly a place binds: `or`, `and`, `not`


def formula_text(formula: f.Formula, place: int = ALTERNATIVES) -> str | None:
    """None where it has a part that no file can say."""
    if isinstance(formula, f.And | f.Or):
        word, own = (" and ", TOGETHER) if isinstance(formula, f.And) else (" or ", ALTERNATIVES)
        parts = [formula_text(item, own + 1) for item in formula.items]
        known = [part for part in parts if part is not None]
        if not known or len(known) < len(parts):
            return None
        text = word.join(known)
        return f"({text})" if own < place and len(known) > 1 else text
    if isinstance(formula, f.Not):
        if isinstance(formula.item, f.SwitchIs | f.Lost | f.ModeIs):
            return _leaf(formula.item, "is not")
        inner = formula_text(formula.item, DENIED)
        return None if inner is None else f"not {inner}"
    return _leaf(formula)


def _leaf(leaf: f.Formula, verb: str = "is") -> str | None:
    match leaf:
        case f.SwitchIs(switch, position):
            return f"{switch} {verb} {position}"
        case f.Lost(sensor):
            return f"{sensor} {verb} lost"
        case f.Compare(name, op, number):
            return None if decimal_text(number) is None else f"{name} {op} {decimal_text(number)}"
        case f.Holds(condition):
            return condition
        case f.ModeIs(mode):
            return f"mode {verb} {mode}"
    return None


def decimal_text(number: Fraction) -> str | None:
    """A number as a formula writes it, exact; None where no decimal is."""
    places = next((n for n in range(16) if (number * 10**n).denominator == 1), None)
    if places is None:
        return None
    digits = str(abs(int(number * 10**places))).rjust(places + 1, "0")
    whole, part = (digits[:-places], digits[-places:]) if places else (digits, "")
    return f"{'-' if number < 0 else ''}{whole}{'.' if part else ''}{part}"


def with_leaf_replaced(formula: f.Formula, old: f.Formula, new: f.Formula) -> f.Formula:
    """The formula with every leaf that is `old` put by `new`."""
    if isinstance(formula, f.And | f.Or):
        return type(formula)(tuple(with_leaf_replaced(item, old, new) for item in formula.items))
    if isinstance(formula, f.Not):
        return f.Not(with_leaf_replaced(formula.item, old, new))
    return new if formula == old else formula
