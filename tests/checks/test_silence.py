"""Setups on which an earlier setuplint said nothing, or too much: each with all that is to be said of it, and no more."""

from __future__ import annotations

from fractions import Fraction as F
from pathlib import Path

import pytest

import setuplint
from setuplint.engine.answers import Timing
from setuplint.formats.case_text import case_steps, moment_words
from setuplint.formats.step_outputs import outputs_on_the_way

SETUPS = Path(__file__).parent / "silent"
HOLD = "Throttle hold does not stop the motor: override"
# Its check at power-up asks for the hold and not for the stick.
STICK_UP = {
    (
        "danger",
        "start-stick-up",
        "start",
    ): "the transmitter can be switched on with the hold on and the throttle stick at 0 %; "
    "then hold to off releases the hold, and motor goes to 0 % (50 of 100) within 2 s, and drives the rotor; with the stick at "
    "the bottom it would not"
}
FINDINGS: dict[str, dict[tuple[str, str, str], str]] = {
    "spool-quiet": {
        (
            "danger",
            "hold-bypassed",
            "spool-power",
        ): f"{HOLD} spool-power puts motor at +45 % (72.5 of 100), though held is on "
        "too: priority 150 beats 100, for 600 s, while condition was-normal stays on"
    },
    "pulse": {
        (
            "danger",
            "hold-bypassed",
            "kick-power",
        ): f"{HOLD} kick-power puts motor at +80 % (90 of 100), though held is on too: "
        "priority 150 beats 100, for 2 s, while condition save-long waits"
    },
    "stuck-hidden": {
        **STICK_UP,
        ("notice", "condition-constant", "never"): "condition never never holds: it never changes",
        (
            "caution",
            "override-stuck",
            "stuck",
        ): "override stuck is always active: it decides channel level wherever no other override wins",
    },
    "follows-point": {
        **STICK_UP,
        ("notice", "part-unused", "unused"): "condition unused does nothing: nothing uses it",
        (
            "caution",
            "rescue-incomplete",
            "motor",
        ): "the rescue leaves motor to throttle: it gives -100 % (0 of 100), less than "
        "the +26 % (63 of 100) that stops a fall (10 points over the hover)",
    },
    "start-toggle": {
        (
            "caution",
            "hold-two-moves",
            "hold",
        ): "in flight, with motor at 0 % (50 of 100), no one movement of button calls the throttle hold"
    },
    "start-heard": {
        (
            "notice",
            "link-alarm-missing",
            "link",
        ): "the craft sends telemetry (speed), but nothing of the radio link: nothing warns before the link is gone",
        (
            "caution",
            "hold-two-moves",
            "hold",
        ): "in flight, with motor at 0 % (50 of 100), no one movement of hold calls the throttle hold",
    },
}
FINDINGS["stuck-shown"] = FINDINGS["stuck-hidden"]
STEPS = {
    "spool-quiet": [
        "switch on with hold on: motor -100 % (0 of 100)",
        "1 s later: put flight to idle-up-1, and within 600 s: motor +45 % (72.5 of 100)",
    ],
    "pulse": ["switch on with hold on and save pulled, and within 2 s: motor +80 % (90 of 100)"],
}


def linted(name: str) -> setuplint.Report:
    return setuplint.lint(SETUPS / f"{name}.toml")


@pytest.mark.parametrize("name", FINDINGS)
def test_it_says_this_and_no_more(name: str) -> None:
    found = linted(name).findings
    assert {(str(each.signal), each.rule, each.subject): each.message for each in found} == FINDINGS[name]
    assert len(found) == len(FINDINGS[name])


@pytest.mark.parametrize("name", STEPS)
def test_a_danger_in_time_comes_with_its_moments(name: str) -> None:
    report = linted(name)
    (finding,) = report.findings
    assert finding.timing is not None
    outputs = outputs_on_the_way(report, finding)
    steps = [step.text.replace("\N{NO-BREAK SPACE}", " ") for step in case_steps(finding, report.values, outputs)]
    assert steps == STEPS[name]


def test_the_moments_of_the_two_dangers() -> None:
    """With the hold on at power-up the lingering condition is on; it goes 600 s after its mode is left. The pulse lasts for as
    long as its `after` waits."""
    spool, pulse = (found.timing for name in ("spool-quiet", "pulse") for found in linted(name).findings)
    assert spool == Timing((F(0), F(1)), F(1), F(601), (), ("was-normal",))
    assert pulse == Timing((F(0),), F(0), F(2), ("save-long",), ())


def test_moments_in_words() -> None:
    at = (F(0), F(1))
    said = {
        (1, 601): ", and within 600 s",
        (1, None): "",
        (3, 9): ", and 2 s to 8 s later",
        (3, None): ", and after 2 s",
    }
    for (since, until), words in said.items():
        timing = Timing(at, F(since), None if until is None else F(until))
        assert moment_words(timing).replace("\N{NO-BREAK SPACE}", " ") == words
