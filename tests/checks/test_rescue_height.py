"""The height that a rescue needs, told beside what is found: by hand from the numbers in it."""

from __future__ import annotations

from typing import Any

import setuplint
from setuplint.book import rulebook
from setuplint.checks import rescue_height
from setuplint.findings import Finding
from setuplint.formats.rule_pages import rule_text
from setuplint.formats.terminal import Look
from tests.checks.linted import said
from tests.checks.test_thin_air import FIXED, HIGH, NO_COLLECTIVE

SECOND = "one second before the pilot acts (14 CFR 29.143(e) for full-size helicopters, by analogy)"
SQUARE = "rotor speed going with the output on the scale from 0 to 100, and lift with its square"


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


def fixed(rule: str, edit: dict[str, Any], remove: tuple[str, ...] = ()) -> str:
    return only(said(rule, FIXED | edit, (*NO_COLLECTIVE, *remove))).estimate


def test_a_weak_rescue_at_fixed_pitch() -> None:
    """(60 / 58)^2 = 1.070: 5 m in the second, 25 / (2 x 0.0702 x 9.80665) = 18.2 m in the stop."""
    assert fixed("rescue-too-weak", {"overrides.rescue-power.value": 20}) == (
        f"About 24 m are lost until a descent of 5 m/s is stopped, {SECOND} included: +20 % (60 of 100) lifts 1.07 times the "
        f"weight, {SQUARE}."
    )


def test_hover_power_stops_nothing() -> None:
    found = fixed("rescue-too-weak", {"overrides.rescue-power.value": 16})
    assert found == f"+16 % (58 of 100) lifts no more than the weight, {SQUARE}: no height is enough to stop a descent."


def test_hardly_more_than_hover_power_needs_more_than_a_field_has() -> None:
    found = fixed("rescue-too-weak", {"overrides.rescue-power.value": 16.1})
    assert "over 100 m are lost" in found
    assert "lifts hardly more than the weight" in found


def test_power_left_to_the_stick_may_be_none() -> None:
    assert fixed("rescue-incomplete", {}, ("overrides.rescue-power",)).startswith("-100 % (0 of 100) lifts nothing, ")


def test_thin_air_takes_lift_away() -> None:
    """(66 / 58)^2 = 1.29 as measured; at 1,900 m (66 / 62.93)^2 = 1.10, and 8 m more."""
    found = fixed("rescue-too-weak", {"overrides.rescue-power.value": 32, **HIGH})
    assert "About 18 m are lost" in found
    assert "+32 % (66 of 100) lifts 1.1 times the weight" in found


def test_a_late_motor_costs_its_delay_as_well() -> None:
    """1 s and 2.41 s at 5 m/s are 17 m, and (77.5 / 58)^2 = 1.785 stops in 1.6 m."""
    found = fixed("rescue-slow", {"channels.motor.ramp-up": 4})
    assert "About 19 m are lost" in found
    assert f"{SECOND} and 2.41 s of delay included: +55 % (77.5 of 100) lifts 1.79 times" in found


def test_levelling_late_costs_the_wait() -> None:
    edit = {"conditions.saving": {"when": "save is pulled", "after": 0.4}, "overrides.rescue-level.when": "saving"}
    assert only(said("rescue-slow", edit)).estimate == "In a descent of 5 m/s 0.4 s of delay alone cost 2 m."


def test_what_a_collective_rotor_lifts_is_assumed_and_said() -> None:
    """6.27 m at twice the weight, 7.55 m at one and a half times."""
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 20})).estimate == (
        f"Were it to lift 2 times the weight, about 7 m would be lost until a descent of 5 m/s is stopped, {SECOND} included; "
        "at 1.5 times about 8 m. What this rotor lifts is not in the file, so both are assumed."
    )


def test_power_above_the_limit_saves_next_to_nothing() -> None:
    """5 + 25 / (2 x 1.683 x 9.80665) = 5.76 m at +90 %, 5.70 m at +95 %."""
    found = fixed("rescue-too-strong", {"overrides.rescue-power.value": 95})
    assert found.startswith(
        f"At +90 % (95 of 100) about 6 m are lost until a descent of 5 m/s is stopped, {SECOND} included; "
    )
    assert found.endswith(f"+95 % (97.5 of 100) saves 0.1 m of them, {SQUARE}.")
    assert not only(said("rescue-too-strong", {"overrides.rescue-power.value": 95})).estimate


def test_without_a_hover_nothing_is_reckoned() -> None:
    slow = {"channels.motor.ramp-up": 4, "craft.governed-above": 20}
    found = fixed("rescue-slow", slow, ("craft.hover-throttle",))
    assert found.startswith("In a descent of 5 m/s ")
    strong = {"overrides.rescue-power.value": 95}
    assert not fixed("rescue-too-strong", strong, ("craft.hover-throttle",))


def test_a_finding_with_an_estimate_is_still_proved() -> None:
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 20})).status == "proved"


def test_the_table_is_on_the_pages_of_the_rules_that_tell_heights() -> None:
    """Hover +16, rescue +32 is (66 / 58)^2 = 1.29 times the weight: 4.3 m, and 9.3 m with the second."""
    shown = {name: rule_text(rulebook.page(name), Look()) for name in rulebook.rules()}
    assert {name for name, text in shown.items() if "lift/weight" in text} == set(rescue_height.RULES)
    rows = [" ".join(line.split()) for line in shown["rescue-too-weak"].splitlines()]
    assert "+32 % (66 of 100) 1.29 5 m 10 m" in rows
    assert "+16 % (58 of 100) 1 cannot cannot" in rows
    assert "collective, assumed 2 2 m 7 m" in rows
    assert "Arithmetic on estimates: advice." in " ".join(shown["rescue-too-weak"].split())


def test_nothing_else_tells_heights() -> None:
    report = setuplint.lint("examples/hazards/rescue-beats-hold.toml")
    assert report.findings
    assert not any(finding.estimate for finding in report.findings)
