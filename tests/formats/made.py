"""Reports made by hand, so that what is printed can be checked apart from what is found."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from setuplint.findings import Finding, NotJudged, Place, Report
from setuplint.setup import Texts
from setuplint.source import parsed_document

SETUP = """\
format = 1
[craft]
name = "Wagtail 470"
motor-off = -95
[battery]
cells = 6
[switches.flight]
kind = "three-position"
positions = ["normal", "idle-up-1", "idle-up-2"]
[switches.hold]
kind = "two-position"
[switches.save]
kind = "momentary"
[sensors.pack]
reads = "pack-voltage"
[overrides.held]
channel = "motor"
value = -100
when = "hold is on"
priority = 10
[overrides.rescue-power]
channel = "motor"
value = 55
when = "save is pulled"
priority = 50
"""

HELD = ("overrides", "held", "priority")
RESCUE = ("overrides", "rescue-power", "priority")


def finding(**changed: Any) -> Finding:
    """A hold that a rescue beats; any field may be given."""
    fields: dict[str, Any] = {
        "rule": "hold-bypassed",
        "signal": "danger",
        "message": "with hold on, rescue-power drives the motor at +55 %",
        "subject": "motor",
        "primary": Place(RESCUE, "and the rescue above it"),
        "related": (Place(HELD, "the hold ranks here"),),
        "witness": {"hold": "on", "save": "pulled"},
        "outputs": {"motor": Fraction(55)},
        "motors": frozenset({"motor"}),
        "why": "A pilot who carries the craft trusts the hold.",
        "remedy": "Give held a priority above 50.",
    }
    return Finding(**(fields | changed))


def report(*findings: Finding, text: str = SETUP, name: str = "wagtail.toml", **fields: Any) -> Report:
    return Report(name, Texts(parsed_document(text, name)), findings, **fields)


NOT_JUDGED = (
    NotJudged("rescue-too-weak", "craft.hover-throttle is not given"),
    NotJudged("rescue-incomplete", "craft.hover-throttle is not given"),
    NotJudged("rescue-not-level", "intent.level is not given"),
)
