"""What a channel that several sticks turn puts out is compared to the end: silence of it is a proof."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint
from setuplint.comparison.changes import Comparison

SUM = """
format = 1
[switches.sw]
kind = "two-position"
[modes.one]
when = "sw is on"
[modes.two]
[channels.servo]
from = "throttle"
rate = 60
mix = [{ from = "aileron", rate = 60 }]
in.two = { from = 0, mix = [] }
sub-trim = 5
high = 120
[overrides.least]
channel = "servo"
at-least = 0
when = "mode is one"
[overrides.up]
channel = "servo"
value = 0
when = "throttle >= 100"
priority = 1
"""


def compared(*edits: tuple[str, str]) -> Comparison:
    new = SUM
    for old, other in edits:
        assert old in new
        new = new.replace(old, other)
    return setuplint.compare(setuplint.load_text(SUM, "old.toml"), setuplint.load_text(new, "new.toml"))


def test_a_servo_set_otherwise_under_one_limit_is_a_change() -> None:
    """The same override limits the same line in both, but the servo's middle has moved."""
    modes = [change.witness for change in compared(("sub-trim = 5", "sub-trim = 6")).changes if change.witness]
    assert any(witness.get("sw") == "on" for witness in modes), "also where the limit decides"


def test_a_corner_of_the_sticks_that_no_place_tried_shows_is_found() -> None:
    """Both sticks must be near their ends, and the end of the throttle is not the line's."""
    found = compared(("high = 120", "high = 119"))
    (change,) = found.changes
    assert (change.kind, change.subject, found.open) == ("output", "servo", ())
    assert change.witness is not None
    throttle, aileron = (Fraction(str(change.witness[stick])) for stick in ("throttle", "aileron"))
    assert throttle < 100
    assert (change.before, change.now) == (min((throttle + aileron) * 60 / 100 + 5, Fraction(120)), 119)


@pytest.mark.parametrize(
    ("edits", "differ"),
    [
        ((("high = 120", "high = 130"), ("rate = 60\nmix", "rate = 57\nmix")), True),
        ((("high = 120", "high = 125"),), True),  # only just: the throttle ends below 100
        ((("high = 120", "high = 125"), ("rate = 60\nmix", "rate = 55\nmix")), True),
        ((("at-least = 0", "at-least = 0\nat-most = 115"),), False),
        ((("at-least = 0", "at-least = 0\nat-most = 114.9"),), True),
        ((("sub-trim = 5", "sub-trim = 5\nlow = 5"),), False),
        ((("from = 0, mix", 'from = "elevator", mix'),), True),
    ],
)
def test_what_a_limit_may_hide_is_decided(edits: tuple[tuple[str, str], ...], differ: bool) -> None:
    found = compared(*edits)
    assert (bool(found.changes), found.open) == (differ, ())


def bent(left: int, right: int) -> str:
    """A servo that a limit keeps still where the curve is above 60; the other stick only adds to it."""
    return f"""
format = 1
[curves.bent]
points = [[-100, {left}], [0, 0], [50, 60], [70, 40], [80, 60], [100, {right}]]
[curves.more]
points = [[-100, 0], [100, 20]]
[channels.servo]
from = "throttle"
curve = "bent"
mix = [{{ from = "aileron", curve = "more" }}]
high = 50
[overrides.up]
channel = "servo"
value = 0
when = "throttle > 55 and elevator > 0"
"""


@pytest.mark.parametrize(("left", "changes"), [(-100, 0), (-90, 1)])
def test_what_could_not_be_told_apart_is_said_beside_what_could(left: int, changes: int) -> None:
    """Above 80 the curves are not the same, and what comes out is, but neither sum is the other and a constant."""
    texts = bent(-100, 60), bent(left, 70)
    found = setuplint.compare(*(setuplint.load_text(text, f"{n}.toml") for n, text in enumerate(texts)))
    assert len(found.changes) == changes
    assert [(each.subject, each.because) for each in found.open] == [
        ("channel servo", "sums of several sticks that could not be told apart")
    ]


def test_sums_that_differ_by_little_are_told_apart_where_they_come_out_between_the_limits() -> None:
    """With the other stick at its end that is where the aileron is beyond 70, and another expo is as good as none at the end."""
    text = """
format = 1
[channels.servo]
from = "aileron"
expo = 30
mix = [{ from = "throttle" }]
high = 60
low = -60
[overrides.up]
channel = "servo"
value = 0
when = "aileron > -70 and elevator > 0"
"""
    texts = text, text.replace("30", "31")
    found = setuplint.compare(*(setuplint.load_text(each, f"{n}.toml") for n, each in enumerate(texts)))
    assert (len(found.changes), found.open) == (1, ())
