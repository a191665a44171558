"""The grammar of MEANING.md 2: what is a formula, what it means, and where one that is none is wrong."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from setuplint.setup import FormulaError, claim_formula
from setuplint.setup.formula_parser import parsed_formula, single_spaced
from setuplint.setup.formulas import (
    PREDICATES,
    And,
    Compare,
    Follows,
    Formula,
    Holds,
    Lost,
    ModeIs,
    Not,
    Or,
    OutputCompare,
    Predicate,
    SwitchIs,
    Unknown,
    atoms,
    both,
    either,
    negation,
)

from .whole import edited, load

SETUP = load(edited())[1].setup


def meant(text: str) -> Formula:
    return claim_formula(text, SETUP)


@pytest.mark.parametrize(
    ("text", "formula"),
    [
        ("hold is on", SwitchIs("hold", "on")),
        ("hold is not on", Not(SwitchIs("hold", "on"))),
        ("pack is lost", Lost("pack")),
        ("pack is not lost", Not(Lost("pack"))),
        ("low", Holds("low")),
        ("throttle < -95.50", Compare("throttle", "<", Fraction(-191, 2))),
        ("dial>=0", Compare("dial", ">=", Fraction(0))),
        ("link <= 7.25", Compare("link", "<=", Fraction(29, 4))),
        ("pack>3", Compare("pack", ">", Fraction(3))),
        ("mode is sport", ModeIs("sport")),
        ("mode is not sport", Not(ModeIs("sport"))),
        ("output motor > 50", OutputCompare("motor", ">", Fraction(50))),
        ("motor follows throttle", Follows("motor", "throttle")),
        ("roll follows dial", Follows("roll", "dial")),
        *((predicate, Predicate(predicate)) for predicate in PREDICATES),
        ("hold  called\tand\n low", And((Predicate("hold called"), Holds("low")))),
        ("not not low", Not(Not(Holds("low")))),
        ("low and armed and lamp", And((Holds("low"), Holds("armed"), Holds("lamp")))),
        ("low or armed and lamp", Or((Holds("low"), And((Holds("armed"), Holds("lamp")))))),
        ("(low or armed) and lamp", And((Or((Holds("low"), Holds("armed"))), Holds("lamp")))),
        ("not low and armed", And((Not(Holds("low")), Holds("armed")))),
        ("not (low and armed)", Not(And((Holds("low"), Holds("armed"))))),
        ("((low))", Holds("low")),
    ],
)
def test_what_is_meant(text: str, formula: Formula) -> None:
    assert meant(text) == formula


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("", 0, 0),
        ("   ", 0, 0),
        ("low and", 6, 7),
        ("and low", 0, 3),
        ("low low", 4, 7),
        ("low or or armed", 7, 9),
        ("(low", 3, 4),
        ("low)", 3, 4),
        ("()", 1, 2),
        ("hold is", 6, 7),
        ("hold is is", 8, 10),
        ("hold is not not on", 12, 15),
        ("hold is 3", 8, 9),
        ("throttle <", 9, 10),
        ("throttle < low", 11, 14),
        ("throttle = 3", 9, 10),
        ("throttle == 3", 9, 11),
        ("throttle < 3.", 11, 13),
        ("throttle < .5", 11, 13),
        ("throttle < +5", 11, 13),
        ("throttle < 1e3", 11, 14),
        ("throttle < 3 4", 13, 14),
        ("3 < throttle", 0, 1),
        ("throttle ! 3", 9, 10),
        ("Hold is on", 0, 4),
        ("hold_up", 0, 7),
        ("low && armed", 4, 6),
        ("mode sport", 5, 10),
        ("mode is", 6, 7),
        ("output motor", 11, 12),
        ("output > 3", 7, 8),
        ("hold caled", 5, 10),
        ("lost", 0, 4),
        ("true", 0, 4),
        ("motor follows 3", 14, 15),
        ("низ is on", 0, 3),
    ],
)
def test_where_it_is_wrong(text: str, start: int, end: int) -> None:
    with pytest.raises(FormulaError) as caught:
        parsed_formula(text)
    assert (caught.value.start, caught.value.end) == (start, end)
    assert caught.value.message
    assert caught.value.help


@pytest.mark.parametrize("word", ["and", "or", "not", "is", "lost", "mode", "output", "true", "false"])
def test_words_that_are_no_condition(word: str) -> None:
    with pytest.raises(FormulaError):
        parsed_formula(word)


def test_it_is_as_long_and_as_deep_as_it_may_be() -> None:
    parsed_formula("(" * 50 + "low" + ")" * 50)
    parsed_formula("not " * 50 + "low")
    parsed_formula("low" + " " * 4093)
    for text in ("(" * 51 + "low" + ")" * 51, "not " * 51 + "low", "(not " * 26 + "low", "low" + " " * 4094):
        with pytest.raises(FormulaError):
            parsed_formula(text)
    parsed_formula(" and ".join(["(low)"] * 400))


def test_a_number_is_no_longer_than_any_of_a_setup() -> None:
    parsed_formula("throttle < -" + "9" * 39)
    with pytest.raises(FormulaError, match="more than 40 characters"):
        parsed_formula("throttle < 0." + "9" * 39)


@pytest.mark.parametrize("seed", range(60))
def test_against_python(seed: int) -> None:
    """and, or, not and parentheses bind as they do in Python."""
    pick = random.Random(seed)

    def written(depth: int) -> str:
        match pick.randrange(5 if depth else 1):
            case 1:
                return f"not {written(depth - 1)}" if pick.random() < 0.5 else f"not ({written(depth - 1)})"
            case 2:
                return f"({written(depth - 1)})"
            case 3:
                return f"{written(depth - 1)} and {written(depth - 1)}"
            case 4:
                return f"{written(depth - 1)} or {written(depth - 1)}"
        return pick.choice(["low", "armed", "lamp"])

    def value(formula: Formula, names: dict[str, bool]) -> bool:
        match formula:
            case And(items=items):
                return all(value(item, names) for item in items)
            case Or(items=items):
                return any(value(item, names) for item in items)
            case Not(item=item):
                return not value(item, names)
            case Holds(condition=name):
                return names[name]
        raise AssertionError(formula)

    text = written(5)
    formula = meant(text)
    for bits in range(8):
        names = {"low": bool(bits & 1), "armed": bool(bits & 2), "lamp": bool(bits & 4)}
        assert value(formula, names) is eval(text, {}, names), text


def test_helpers() -> None:
    low, armed = Holds("low"), Holds("armed")
    assert both(low) == either(low) == low
    assert both(low, armed) == And((low, armed))
    assert either(low, armed) == Or((low, armed))
    assert negation(low) == Not(low)
    assert negation(Not(low)) == low
    assert list(atoms(meant("low or not (armed and low)"))) == [low, armed, low]
    assert single_spaced("  a   is\n b ") == "a is b"


def test_questions_about_a_broken_set_up() -> None:
    """A part that is there but cannot be read makes a question unknown; it is no wrong name."""
    setup = load(edited(("switches.hold.kind", "wheel"), ("sensors.pack.reads", 3)))[1].setup
    found = claim_formula("hold is on or pack < 3 or hold is not up", setup)
    assert all(isinstance(atom, Unknown) for atom in atoms(found))
    with pytest.raises(FormulaError):
        claim_formula("holt is on", setup)


def test_a_condition_with_the_name_of_a_predicate_is_one_finding() -> None:
    edits = (("conditions.flying", {"when": "hold is off"}), ("alarms.land.when", "flying"))
    _, built = load(edited(*edits))
    assert [p.rule for p in built.problems] == ["name-clash"]
    assert isinstance(built.setup.alarms["land"].when, Unknown)
