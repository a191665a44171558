"""What is said to be described is true or false in every state: the solver finds none in which it is neither."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest

import setuplint
from setuplint.engine.answers import NOT_JUDGED
from setuplint.engine.decider import Decider
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
TEXTS = [(EXAMPLES / f"{name}.toml").read_text(encoding="utf-8") for name in ("reference", "heron", "kestrel")]
# A formula that names nothing, a line without its source, an override without its number, a craft without its limit.
BREAKS = (
    (r'^(when|until|lent|requires|hold) = ".*"', r'\1 = "nothing-called-so"'),
    (r"^from = .*", "# from"),
    (r"^value = .*", 'value = "high"'),
    (r"^priority = .*", 'priority = "first"'),
    (r"^(motor-off|cells) = .*", r"# \1"),
)


def broken() -> list[str]:
    """Each text with one place broken, each place in turn."""
    found = list(TEXTS)
    for text in TEXTS:
        for pattern, instead in BREAKS:
            for match in re.finditer(pattern, text, re.M):
                found.append(text[: match.start()] + match.expand(instead) + text[match.end() :])
    return found


def questions(setup: Setup) -> list[f.Formula]:
    asked: list[f.Formula] = [f.Predicate(name) for name in f.PREDICATES]
    asked += [f.Holds(name) for name in setup.conditions] + [f.ModeIs(name) for name in setup.modes]
    asked += [f.Sounds(name) for name in setup.alarms] + [f.Active(name) for name in setup.overrides]
    asked += [f.OutputCompare(name, "<", Fraction(20)) for name in setup.channels]
    asked += [f.Decides(name, None) for name in setup.channels]
    asked += [f.Follows(name, stick) for name in setup.channels for stick in ("throttle", "aileron")]
    return [*asked, f.CellBelow(Fraction(7, 2))]


@pytest.mark.parametrize("part", range(4))
def test_what_is_described_is_never_neither(part: int) -> None:
    described = undescribed = 0
    for text in broken()[part::4]:
        decider = Decider(setuplint.load_text(text).model)
        for formula in questions(decider.setup):
            true, false = decider.settled.truth(formula)
            neither = decider.reach.sat.solve([-true, -false])
            if decider.is_described(decider.cone([formula]), formula):
                assert not neither, formula
                described += 1
            undescribed += neither
    assert described > 500
    assert undescribed > 50


def test_where_nothing_starts_an_answer_does_not_hang_on_what_was_asked_before() -> None:
    """The check at power-up, which admits nothing, is left out: what is known to be described is kept by other numbers then."""
    text = (
        TEXTS[0]
        .replace('requires = "', 'requires = "throttle > 0 and ')
        .replace('kind = "momentary"', 'kind = "lever"')
    )
    decider = Decider(setuplint.load_text(text).model)
    assert not decider.start_possible
    asked = ["rotor driven", "hold is on", "rotor driven and hold is off", "rotor driven and throttle > 0"]
    verdicts = [decider.find(formula).verdict for formula in asked]
    alone = [Decider(setuplint.load_text(text).model).find(formula).verdict for formula in asked]
    assert verdicts == alone
    assert verdicts.count(NOT_JUDGED) == 3
