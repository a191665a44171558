"""What the motor gives on the way to a witness, by the plain evaluator; nothing where the steps do not lead there."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint
from setuplint.findings import Finding
from setuplint.formats import case_text
from setuplint.formats.reports import text
from setuplint.formats.terminal import Look
from tests.formats.made import finding, report

LATCHED = """\
format = 1
[craft]
motor-off = -95
[switches.hold]
kind = "two-position"
[switches.save]
kind = "momentary"
[sensors.pack]
reads = "pack-voltage"
[conditions.saved]
when = "save is pulled"
until = "hold is on"
[channels.motor]
drives = "motor"
from = "throttle"
[overrides.rescue]
channel = "motor"
value = 35
when = "saved or pack < 3"
[start]
requires = "hold is on"
"""


def latched(**changed: object) -> Finding:
    fields = {
        "primary": finding().primary,
        "related": (),
        "steps": ({"hold": "on"}, {"hold": "off", "save": "pulled"}, {"save": "released"}),
        "outputs": {"motor": Fraction(35)},
    }
    return finding(**(fields | changed))


def table(one: Finding) -> list[str]:
    printed = text.section(report(one, text=LATCHED), Look()).splitlines()
    return [" ".join(row.split()) for row in printed if row.startswith(" " * 16) and row.lstrip()[0].isdigit()]


def test_every_step_with_what_the_motor_then_gives() -> None:
    assert table(latched()) == [
        "1 switch on with hold on motor -100 % (0 of 100)",
        "2 put hold off, pull save motor +35 % (67.5 of 100)",
        "3 let go of save motor +35 % (67.5 of 100)",
    ]


@pytest.mark.parametrize(
    "changed",
    [
        {"outputs": {"motor": Fraction(55)}},
        {"steps": ({"hold": "on"}, {"gone": "pulled"}, {"save": "released"})},
        {"steps": ({"hold": "on"}, {"hold": "sideways"}, {"save": "released"})},
    ],
    ids=["another end", "an unknown control", "an unknown position"],
)
def test_only_the_end_is_told_where_the_steps_do_not_lead_to_it(changed: dict[str, object]) -> None:
    rows = table(latched(**changed))
    assert [row for row in rows if "motor" in row] == rows[-1:]


def test_readings_are_heard_from_the_second_step() -> None:
    steps = ({"hold": "on"}, {"pack": 2.5, "hold": "off"})
    assert table(latched(steps=steps)) == [
        "1 switch on with hold on motor -100 % (0 of 100)",
        "2 put hold off, with pack at 2.5 V motor +35 % (67.5 of 100)",
    ]


def test_a_movement_that_ends_it_is_the_last_step_and_the_outputs_are_those_after_it() -> None:
    one = latched(
        steps=({"hold": "on"}, {"hold": "off", "save": "pulled"}),
        then="then hold to on",
        outputs={"motor": Fraction(-100)},
    )
    assert table(one) == [
        "1 switch on with hold on motor -100 % (0 of 100)",
        "2 put hold off, pull save motor +35 % (67.5 of 100)",
        "3 put hold on motor -100 % (0 of 100)",
    ]
    printed = " ".join(text.section(report(one, text=LATCHED), Look()).split())
    assert "after these 3 steps from power-up, the motor channel gives -100 % (0 of 100, 1000 µs)." in printed


def test_a_movement_without_steps_is_told_in_the_sentence() -> None:
    one = latched(steps=(), witness={"hold": "off"}, then="then save to pulled")
    printed = " ".join(text.section(report(one, text=LATCHED), Look()).split())
    assert "with hold off, and all else at rest, then pull save: the motor channel gives +35 %" in printed


def test_what_is_caught_while_it_lingers_is_shown_with_its_moments() -> None:
    """Hands need not be quick for it: the hold is let go of, and meanwhile what is still held sets the latch."""
    lingers = '[conditions.held]\nwhen = "hold is on"\nstays = 5\n[conditions.saved]\nwhen = "held and hold is off"\n'
    setup = LATCHED.replace('[conditions.saved]\nwhen = "save is pulled"\n', lingers)
    setup = setup.replace('until = "hold is on"', 'until = "save is pulled"').replace("saved or pack < 3", "saved")
    setup += '[overrides.cut]\nchannel = "motor"\nvalue = -100\nwhen = "hold is on"\npriority = -1\n'
    linted = setuplint.lint_text(setup + '[intent]\nhold = "hold is on"\n', name="craft.toml")
    (found,) = [one for one in linted.findings if one.rule == "hold-bypassed"]
    assert found.timing is not None
    printed = [" ".join(row.split()) for row in text.section(linted, Look()).splitlines()]
    assert {
        "1 switch on with hold on motor -100 % (0 of 100)",
        "2 6 s later: put hold off motor +35 % (67.5 of 100)",
        "3 6 s later: put hold on motor +35 % (67.5 of 100)",
    } <= set(printed)
    command = case_text.trace_command(found, "craft.toml")
    assert command == "setuplint trace craft.toml --set hold=on,wait=6 --then hold=off,wait=6 --then hold=on,wait=5"


def test_a_receiver_that_stays_off_after_power_up_is_told_in_its_steps() -> None:
    """Else the steps would be gone with it on, and lead elsewhere."""
    setup = LATCHED.replace('[conditions.saved]\nwhen = "save is pulled"\nuntil = "hold is on"', "[conditions.saved]")
    setup = setup.replace("[conditions.saved]", '[conditions.saved]\nwhen = "save is pulled"\nstays = 3')
    silent = "saved and save is released and not pack >= 0 and pack is not lost"
    setup = setup.replace("saved or pack < 3", silent) + '[intent]\nhold = "hold is on"\n'
    linted = setuplint.lint_text(setup, name="craft.toml", only=["hold-bypassed"])
    found = next(one for one in linted.findings if one.timing is not None)
    assert found.steps[1:] == ({"save": "released", "pack": "unheard"},)
    printed = " ".join(text.section(linted, Look()).split())
    assert (
        "2 1 s later: let go of save, with the receiver still off, and within 3 s motor +35 % (67.5 of 100)" in printed
    )
    command = case_text.trace_command(found, "craft.toml")
    assert command.endswith("--then save=released,pack=unheard,wait=1.5")
