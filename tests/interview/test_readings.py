"""From readings to a setup: for every example, what is read off it makes a setup that gives the same at every place asked."""

from __future__ import annotations

from pathlib import Path

import pytest

import setuplint
from setuplint.interview.readings import Unreadable, read_readings
from setuplint.interview.readings_lines import stick_groups
from setuplint.interview.readings_parts import Parts
from setuplint.interview.readings_setup import readings_text
from setuplint.setup.model import Setup
from tests.cli.running import Command
from tests.interview.read_examples import outputs_at, planned, readings_file

ROOT = Path(__file__).parent.parent.parent
EXAMPLES = [path for path in sorted((ROOT / "examples").glob("*.toml")) if path.stem != "club-radio"]
HAZARDS = sorted((ROOT / "examples" / "hazards").glob("*.toml"))


def setup_at(path: Path) -> Setup:
    return setuplint.load(path).model


@pytest.mark.quick(8)
@pytest.mark.parametrize("path", [*EXAMPLES, *HAZARDS], ids=lambda path: path.stem)
def test_what_is_read_off_an_example_is_what_the_new_setup_gives(path: Path) -> None:
    """Hazards too: a rescue that beats the hold beats it in what is made of its readings."""
    setup = setup_at(path)
    places = planned(setup)
    loaded = setuplint.load_text(readings_text(Parts(read_readings(readings_file(setup, places), "r.toml"))))
    assert [problem.message for problem in loaded.problems] == []
    for place in places:
        read = outputs_at(setup, place)
        found = outputs_at(loaded.model, place)
        assert {channel: found.get(channel) for channel in read} == read, place


def test_a_hazard_is_found_again_in_what_was_read_of_it() -> None:
    for name, rule in (("rescue-beats-hold", "hold-bypassed"), ("rescue-beats-hold-mode", "hold-bypassed")):
        setup = setup_at(ROOT / "examples" / "hazards" / f"{name}.toml")
        text = readings_text(Parts(read_readings(readings_file(setup, planned(setup)), "r.toml")))
        assert rule in {finding.rule for finding in setuplint.lint_text(text).findings}


def test_few_places_are_asked() -> None:
    """Nine with all switches at rest, three for each combination; six where channels follow two sticks each."""
    assert len(planned(setup_at(ROOT / "examples" / "reference.toml"))) == 9 + 3 * 12, "of 24 combinations of switches"
    lapwing = setup_at(ROOT / "examples" / "lapwing.toml")
    readings = read_readings(readings_file(lapwing, planned(lapwing)), "r.toml")
    assert stick_groups(readings) == [["throttle", "aileron"], ["elevator", "rudder"]]


SMALL = """readings = 1
[switches.hold]
kind = "two-position"
for = "hold"
[channels.motor]
number = 2
drives = "motor"
[[places]]
reads = { motor = "0 of 100" }
[[places]]
sticks = { throttle = 100 }
reads = { motor = "2000 µs" }
[[places]]
switches = { hold = "on" }
sticks = { throttle = 100 }
reads = { motor = -100 }
"""


def test_the_command_makes_it_and_names_what_is_open(command: Command, folder: Path) -> None:
    Path("r.toml").write_text(SMALL, encoding="utf-8")
    done = command("new", "x.toml", "--from-readings", "r.toml")
    assert "It gives what was read at all of 3 places: that was tried." in done.out
    assert "10 places of the card without a reading of each channel: all switches at rest, throttle 0" in done.words
    assert "[failsafe]: what the receiver puts out" in done.words
    assert "[failsafe-motor-missing]" in done.out
    assert done.status == 1
    text = Path("x.toml").read_text(encoding="utf-8")
    assert "# TODO sticks.throttle.trim" in text
    model = setuplint.load("x.toml").model
    assert model.overrides["hold-motor"].value == -100
    assert command("new", "x.toml", "--from-readings", "r.toml").status == 2, "nothing is overwritten"


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("readings = 1", "readings = 2", "r.toml:1:12: readings = 1 is needed"),
        ("number = 2", "number = 2 2", "r.toml:6:"),
        ("number = 2", "numbr = 2", "numbr is no key here: there is number, drives"),
        ('for = "hold"', 'for = "brake"', "r.toml:4:7: for is one of hold, stop, rescue, mode, other"),
        ("switches = { hold", "switches = { cut", "cut is no key here: there is hold"),
        ('hold = "on"', 'hold = "up"', "hold has off, on"),
        ("throttle = 100", "throttle = 101", "a number from -100 to 100 is needed"),
        ("motor = -100", 'motor = "fast"', "r.toml:16:19: a number from -150 to 150 is needed"),
        ("motor = -100", "motor = 1e999999999", "a number from -150 to 150 is needed"),
        ("motor = -100", "motor = nan", "a number from -150 to 150 is needed"),
        ("throttle = 100", "throttle = -nan", "a number from -100 to 100 is needed"),
        ("motor = -100", "motor = true", "a number from -150 to 150 is needed"),
        ("[switches.hold]", "[switches.lost]", "lost is no name"),
        ("sticks = { throttle = 100 }", "", "places 1 and 2 contradict each other about motor"),
        ("[[places]]", "[[place]]", "place is no key here"),
    ],
)
def test_readings_that_cannot_be_taken_say_why_and_where(
    command: Command, folder: Path, old: str, new: str, complaint: str
) -> None:
    Path("r.toml").write_text(SMALL.replace(old, new), encoding="utf-8")
    done = command("new", "x.toml", "--from-readings", "r.toml")
    assert done.status == 2
    assert complaint in done.err
    assert not Path("x.toml").exists()


def test_readings_take_no_other_option(command: Command, folder: Path) -> None:
    Path("r.toml").write_text(SMALL, encoding="utf-8")
    done = command("new", "x.toml", "--from-readings", "r.toml", "--rotor", "fixed")
    assert done.status == 2
    assert "with readings no other option" in done.err


def test_a_channel_that_follows_two_sticks_at_once_is_not_guessed() -> None:
    text = SMALL + "[[places]]\nsticks = { aileron = 100 }\nreads = { motor = 0 }\n"
    text += (
        '[[places]]\nswitches = { hold = "on" }\nsticks = { throttle = 100, aileron = 100 }\nreads = { motor = 20 }\n'
    )
    with pytest.raises(Unreadable, match="motor follows throttle and aileron, so these are read one by one"):
        Parts(read_readings(text, "r.toml"))
