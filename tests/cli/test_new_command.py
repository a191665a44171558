"""`setuplint new`: a starting setup in which a lint finds no hazard, whatever is known and whatever is not."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from tests.cli.running import Command, waits_for_the_trim_alone

MEASURED = {"motor-off", "hover-throttle", "hover-collective", "governed-above", "hover-measured-at-m"}
ALL = (
    *("--name", 'The "470"', "--radio", "blue", "--motor-off", "-95", "--hover-throttle", "16"),
    *("--hover-collective", "30", "--throttle-trim", "5", "--chemistry", "lipo", "--cells", "6"),
    *(
        "--capacity-mah",
        "2600",
        "--hover-current-a",
        "27",
        "--resistance-mohm",
        "21",
        "--pack-sensor",
        "--link-sensor",
        "--modes",
        "normal, idle-up",
        "--idle-up",
        "idle-up=38",
    ),
    *("--level", "100", "--lift", "unit", "--number", "motor=2", "--number", "pitch=6"),
)


def test_with_nothing_but_the_rotor_nothing_measured_is_made_up(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--rotor", "collective")
    assert done.err == ""
    assert waits_for_the_trim_alone(done)
    assert "Written: x.toml" in done.out
    values = tomllib.loads(Path("x.toml").read_text(encoding="utf-8"))
    assert values["craft"] == {"rotor": "collective"}
    assert "battery" not in values
    assert "sensors" not in values
    assert "because craft.hover-throttle is not given" in done.words


def test_hold_and_rescue_are_as_they_should_be(command: Command, folder: Path) -> None:
    command("new", "x.toml", "--rotor", "fixed", "--hold-switch", "cut", "--rescue-switch", "bail")
    values = tomllib.loads(Path("x.toml").read_text(encoding="utf-8"))
    assert values["switches"]["cut"]["kind"] == "two-position"
    assert values["switches"]["bail"]["kind"] == "momentary"
    assert values["failsafe"]["motor"] == -100
    assert values["start"]["requires"] == "cut is on and throttle < -95"
    assert max(values["overrides"].values(), key=lambda each: each["priority"])["when"] == "cut is on"


def test_everything_that_is_given_is_in_the_file(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--rotor", "collective", *ALL)
    assert done.status == 0
    assert "Not judged" not in done.out
    values = tomllib.loads(Path("x.toml").read_text(encoding="utf-8"))
    assert values["craft"]["name"] == 'The "470"'
    assert values["channels"]["motor"]["number"] == 2
    assert values["conditions"]["pack-low"]["when"] == "pack < 21.6", "a careful 3.6 V a cell"
    assert "nothing found" in done.words
    assert values["timers"]["flight"]["seconds"] == 270, "0.8 x 2.6 Ah / 27 A = 277 s"


def test_a_careful_alarm_that_leaves_too_little_time_is_raised(command: Command, folder: Path) -> None:
    command("new", "x.toml", "--rotor", "collective", *ALL, "--capacity-mah", "1500")
    values = tomllib.loads(Path("x.toml").read_text(encoding="utf-8"))
    assert values["conditions"]["pack-low"]["when"] == "pack < 21.66", "3.61 V a cell: 3.6 V would leave under 40 s"


def test_what_only_the_pilot_knows_is_claimed_with_its_reason(command: Command, folder: Path) -> None:
    command("new", "x.toml", "--rotor", "fixed", "--throttle-trim", "0")
    text = Path("x.toml").read_text(encoding="utf-8")
    claims = tomllib.loads(text)["claims"]
    assert claims[0]["always"] == "not (aileron > 50) or output roll > 0"
    assert all(claim["because"] for claim in claims)
    Path("y.toml").write_text(text.replace('from = "elevator"', 'from = "elevator"\nreversed = true'), encoding="utf-8")
    done = command("lint", "y.toml")
    assert "[claim-broken]" in done.out
    assert "output nose > 0" in done.out


def test_the_curves_have_their_slope_at_the_hover(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--rotor", "fixed", "--hover-throttle", "16", "--slope", "normal=0.5")
    assert waits_for_the_trim_alone(done)
    curves = tomllib.loads(Path("x.toml").read_text(encoding="utf-8"))["curves"]
    assert curves["throttle-normal"]["points"] == [[-100, -100], [-50, -9], [0, 16], [50, 41], [100, 100]]
    args = ("--hover-throttle", "16", "--hover-collective", "30", "--throttle-trim", "5", "--idle-up", "fast=40")
    command("new", "y.toml", "--rotor", "collective", *args, "--modes", "normal,fast", "--slope", "normal=0.4")
    curves = tomllib.loads(Path("y.toml").read_text(encoding="utf-8"))["curves"]
    assert curves["throttle-normal"]["points"] == [[-100, -100], [-95, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]
    assert curves["pitch-normal"]["points"] == [[-100, -20], [-50, 10], [0, 30], [50, 50], [100, 80]]
    assert curves["pitch-fast"]["points"][1] == [0, 30]


def test_a_switch_that_is_not_needed_keeps_no_name_for_itself(command: Command, folder: Path) -> None:
    known = ("--rotor", "fixed", "--throttle-trim", "0")
    assert command("new", "x.toml", *known, "--hold-switch", "flight").status == 0
    assert command("new", "y.toml", *known, "--hold-switch", "save", "--rescue-switch", "no").status == 0


def test_nothing_is_overwritten(command: Command, folder: Path) -> None:
    Path("x.toml").write_text("mine", encoding="utf-8")
    done = command("new", "x.toml", "--rotor", "fixed")
    assert done.status == 2
    assert done.err == "setuplint: x.toml exists already: nothing is overwritten\n"
    assert Path("x.toml").read_text(encoding="utf-8") == "mine"
    Path("y.toml").symlink_to("elsewhere.toml")
    assert command("new", "y.toml", "--rotor", "fixed").status == 2
    assert not Path("elsewhere.toml").exists()


def test_a_dash_prints_it_and_lints_it_on_the_side(command: Command, folder: Path) -> None:
    done = command("new", "-", "--rotor", "fixed", "--throttle-trim", "0")
    assert done.status == 0
    assert tomllib.loads(done.out)["format"] == 1
    assert "nothing found" in " ".join(done.err.split())
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize(
    ("args", "complaint"),
    [
        ((), "--rotor"),
        (("--rotor", "none"), "--rotor none: One of collective, fixed"),
        (
            ("--rotor", "fixed", "--lift", "unit"),
            "--lift does not go with the rest: it is for a rescue of a collective rotor",
        ),
        (
            ("--rotor", "collective", "--idle-up", "fast=45"),
            "it is for a mode after the first, on a collective rotor, and fast is none",
        ),
        (("--rotor", "collective", "--idle-up", "45"), "it says of which, like idle-up=38"),
        (("--rotor", "fixed", "--pack-sensor"), "a pack whose chemistry and cells are known"),
        (("--rotor", "fixed", "--motor-off", "nan"), "“nan” is not an output from -150 to 150"),
        (("--rotor", "fixed", "--motor-off", "1e9"), "is not an output"),
        (("--rotor", "fixed", "--motor-off", "0"), "0 on a scale from 0 to 100 is -100 here"),
        (("--rotor", "fixed", "--cells", "0"), "is not a whole number from 1 to 24"),
        (("--rotor", "fixed", "--hold-switch", "4"), "is not a name"),
        (("--rotor", "fixed", "--hold-switch", "lost"), "no word of the format"),
        (("--rotor", "fixed", "--hold-switch", "throttle"), "no word of the format"),
        (("--rotor", "fixed", "--hold-switch", "save"), "save is in use already"),
        (("--rotor", "fixed", "--number", "motor=2", "--number", "roll=2"), "numbers from 1 to 32, each once"),
        (("--rotor", "fixed", "--number", "wing=3"), "is not like motor=2"),
        (("--rotor", "fixed", "--name", "x\n[y]"), "1 to 60 characters on one line without control characters"),
        (("--rotor", "fixed", "--motor-off", "-95", "--hover-throttle", "-95"), "where the motor is stopped"),
        (
            ("--rotor", "fixed", "--slope", "normal=0.6"),
            "it is for a calm mode, with the hover known, and normal is none",
        ),
        (("--rotor", "fixed", "--hover-throttle", "16", "--slope", "normal=1.7"), "is not a slope from 0.2"),
        (
            ("--rotor", "fixed", "--hover-throttle", "60", "--slope", "normal=1"),
            "with a slope of 1 the curve has no room beside the hover",
        ),
    ],
)
def test_wrong_options(command: Command, folder: Path, args: tuple[str, ...], complaint: str) -> None:
    done = command("new", "x.toml", *args)
    assert done.status == 2
    assert complaint in done.err
    assert not Path("x.toml").exists()


def test_a_folder_that_is_not_there(command: Command, folder: Path) -> None:
    done = command("new", "none/x.toml", "--rotor", "fixed")
    assert done.status == 2
    assert "cannot write none/x.toml: No such file or directory" in done.err
