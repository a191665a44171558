"""What a channel's line is in each mode (MEANING.md 5): a key in `in` replaces that line's, a key absent keeps it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from setuplint.setup.model import BySwitch, Line, Term

from .whole import edited, load, said

BASE: dict[str, Any] = {
    "from": "throttle",
    "rate": 80,
    "expo": 10,
    "curve": "soft",
    "mix": [{"from": "rudder", "rate": 5}],
    "ramp-up": 2,
}
OWN = Term("throttle", "stick", Fraction(80), Fraction(10), "soft")
MIX = Term("rudder", "stick", Fraction(5))


def line(inside: dict[str, Any], base: dict[str, Any] = BASE) -> Line:
    """The line in sport of a channel with the keys `base`, and `inside` in sport."""
    channel = {**base, "in": {"sport": inside}}
    _, built = load(edited(("channels.gain", channel)))
    assert built.problems == ()
    made = built.setup.channels["gain"]
    assert made.lines["normal"] == made.own == made.line(None) == made.lines["stunt"]
    return made.line("sport")


@pytest.mark.parametrize(
    ("inside", "terms"),
    [
        ({}, (OWN, MIX)),
        ({"rate": 50}, (Term("throttle", "stick", Fraction(50), Fraction(10), "soft"), MIX)),
        ({"expo": 0}, (Term("throttle", "stick", Fraction(80), Fraction(0), "soft"), MIX)),
        ({"curve": "straight"}, (Term("throttle", "stick", Fraction(80), Fraction(10)), MIX)),
        ({"from": "dial"}, (Term("dial", "stick", Fraction(80), Fraction(10), "soft"), MIX)),
        ({"from": -30.5}, (Term(Fraction(-61, 2), "number"), MIX)),
        (
            {"from": "hold", "values": {"on": 1, "off": 0}},
            (Term("hold", "switch", values={"off": Fraction(0), "on": Fraction(1)}), MIX),
        ),
        ({"mix": []}, (OWN,)),
        ({"mix": [{"from": 3}, {"from": "dial"}]}, (OWN, Term(Fraction(3), "number"), Term("dial", "stick"))),
        (
            {"rate": {"switch": "hold", "at": {"off": 1, "on": 2}}},
            (
                Term(
                    "throttle",
                    "stick",
                    BySwitch("hold", {"off": Fraction(1), "on": Fraction(2)}),
                    Fraction(10),
                    "soft",
                ),
                MIX,
            ),
        ),
    ],
)
def test_what_differs_in_a_mode(inside: dict[str, Any], terms: tuple[Term, ...]) -> None:
    assert line(inside) == Line(terms, Fraction(2), Fraction(0))


def test_ramps_in_a_mode() -> None:
    assert line({"ramp-up": 0, "ramp-down": 3}) == Line((OWN, MIX), Fraction(0), Fraction(3))


def test_a_mode_alone_may_say_what_is_read() -> None:
    made = line({"from": "dial"}, {"rate": 50})
    assert made.terms == (Term("dial", "stick", Fraction(50)),)
    assert line({"rate": 50}, {"expo": 3}).terms is None


SWITCHED: dict[str, Any] = {"from": "hold", "values": {"off": 1, "on": 2}}
VALUES = {"off": Fraction(1), "on": Fraction(2)}


def test_values_are_kept_where_they_fit() -> None:
    assert line({}, SWITCHED).terms == (Term("hold", "switch", values=VALUES),)
    assert line({"from": "throttle", "rate": 3}, SWITCHED).terms == (Term("throttle", "stick", Fraction(3)),)
    assert line({"values": {"off": 5, "on": 6}}, SWITCHED).terms == (
        Term("hold", "switch", values={"off": Fraction(5), "on": Fraction(6)}),
    )
    twin = ("switches.twin", {"kind": "two-position"})
    _, built = load(edited(twin, ("channels.gain", {**SWITCHED, "in": {"sport": {"from": "twin"}}})))
    assert built.problems == ()
    assert built.setup.channels["gain"].lines["sport"].terms == (Term("twin", "switch", values=VALUES),)
    (problem,) = said(("channels.gain", {**SWITCHED, "in": {"sport": {"from": "save"}}}))
    assert "without values" in problem.message


def test_values_stand_in_the_order_of_the_positions() -> None:
    assert list(line({}, {"from": "hold", "values": {"on": 2, "off": 1}}).terms[0].values) == ["off", "on"]  # type: ignore[index]


def test_wrong_values_of_one_switch_are_no_second_finding_where_they_are_kept() -> None:
    wrong = {"from": "hold", "values": {"off": 1, "onn": 2}, "in": {"sport": {"from": "hold"}, "stunt": {"rate": 3}}}
    assert [p.rule for p in said(("channels.gain", wrong))] == ["unknown-name", "not-a-setup"]
    wrong = {"from": "hold", "values": {"off": 1, "onn": 2}, "in": {"sport": {"from": "hold"}}}
    assert len(said(("channels.gain", wrong))) == 1


def test_keys_beside_the_wrong_from_are_one_finding() -> None:
    (problem,) = said(
        ("channels.gain", {"from": 3, "rate": 1, "expo": 1, "curve": "soft", "in": {"sport": {"rate": 2}}})
    )
    assert problem.message.startswith("rate, expo and curve go with a stick or knob")
    assert [other.path[-1] for other in problem.related] == ["expo", "curve"]


@pytest.mark.parametrize("key", ["low", "high", "sub-trim", "travel"])
def test_how_a_servo_is_driven_is_never_taken_from_a_number_too_long(key: str) -> None:
    long = "1." + "1" * 45
    text = f'format = 1\n[channels.motor]\ndrives = "motor"\nfrom = 3\n{key} = {f"[{long}, 100]" if key == "travel" else long}\n'
    _, built = load(text)
    assert [problem.message[-32:] for problem in built.problems] == ["more digits than anything measures"[-32:]]
    assert built.setup.channels["motor"].own.terms is None
