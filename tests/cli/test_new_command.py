"""`setuplint new`: a starting setup in which a lint finds no hazard, whatever is known and whatever is not."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setuplint.cli.new import checked_text
from setuplint.cli.wishes import Wishes
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
        "--idle-up",
        "38",
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


def test_soften_gives_the_curves_their_slope_at_the_hover(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--rotor", "fixed", "--hover-throttle", "16", "--soften", "0.5")
    assert waits_for_the_trim_alone(done)
    curves = tomllib.loads(Path("x.toml").read_text(encoding="utf-8"))["curves"]
    assert curves["throttle-normal"]["points"] == [[-100, -100], [-50, -9], [0, 16], [50, 41], [100, 100]]
    args = ("--hover-throttle", "16", "--hover-collective", "30", "--throttle-trim", "5", "--idle-up", "45")
    command("new", "y.toml", "--rotor", "collective", *args, "--soften", "0.4")
    curves = tomllib.loads(Path("y.toml").read_text(encoding="utf-8"))["curves"]
    assert curves["throttle-normal"]["points"] == [[-100, -100], [-95, -100], [-50, -4], [0, 16], [50, 36], [100, 100]]
    assert curves["pitch-normal"]["points"] == [[-100, -20], [-50, 10], [0, 30], [50, 50], [100, 80]]
    assert curves["pitch-idle-up"]["points"][1] == [0, 30]


def test_a_switch_that_is_not_needed_keeps_no_name_for_itself(command: Command, folder: Path) -> None:
    known = ("--rotor", "fixed", "--throttle-trim", "0")
    assert command("new", "x.toml", *known, "--hold-switch", "flight").status == 0
    assert command("new", "y.toml", *known, "--hold-switch", "save", "--without-rescue").status == 0


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
        (("--rotor", "none"), "invalid choice"),
        (("--rotor", "fixed", "--lift", "unit"), "--lift is for a collective rotor"),
        (("--rotor", "fixed", "--idle-up", "45"), "--idle-up is for a collective rotor"),
        (("--rotor", "fixed", "--pack-sensor"), "--pack-sensor needs --cells and --chemistry"),
        (("--rotor", "fixed", "--motor-off", "nan"), "is not a number from -150 to 150"),
        (("--rotor", "fixed", "--motor-off", "1e9"), "is not a number"),
        (("--rotor", "fixed", "--cells", "0"), "is not a whole number from 1 to 24"),
        (("--rotor", "fixed", "--hold-switch", "Hold"), "is not a name"),
        (("--rotor", "fixed", "--hold-switch", "lost"), "is a word of the format"),
        (("--rotor", "fixed", "--hold-switch", "throttle"), "is a word of the format"),
        (("--rotor", "fixed", "--hold-switch", "save"), "each need a switch of their own"),
        (("--rotor", "fixed", "--number", "motor=2", "--number", "roll=2"), "--number gives"),
        (("--rotor", "fixed", "--number", "wing=3"), "is not like motor=2"),
        (("--rotor", "fixed", "--name", "x\n[y]"), "1 to 60 characters on one line"),
        (("--rotor", "fixed", "--radio", ""), "argument --radio: 1 to 60 characters"),
        (("--rotor", "fixed", "--motor-off", "-95", "--hover-throttle", "-95"), "is not above --motor-off -95"),
        (("--rotor", "collective", "--lift", "unit", "--rescue-pitch", "50"), "exclude each other"),
        (("--rotor", "fixed", "--soften", "0.6"), "--soften needs --hover-throttle"),
        (("--rotor", "fixed", "--soften", "0.01"), "is not a number from 0.05 to 3"),
        (
            ("--rotor", "fixed", "--hover-throttle", "16", "--soften", "1.7"),
            "puts the fourth point at 101, beyond the end",
        ),
        (
            ("--rotor", "fixed", "--hover-throttle", "16", "--soften", "1", "--throttle-trim", "60"),
            "leaves a throttle trim less than 50",
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


@st.composite
def wishes(draw: st.DrawFn) -> Wishes:
    """Whatever a pilot may know, within what a working craft can have."""

    def maybe(*values: str) -> str | None:
        return draw(st.sampled_from((None, *values)))

    rotor = draw(st.sampled_from(("collective", "fixed")))
    collective = rotor == "collective"
    lift = maybe("unit") if collective else None
    battery = draw(st.booleans())
    return Wishes(
        rotor=rotor,
        kind=maybe("helicopter", "multirotor"),
        soft_start=maybe("yes", "no"),
        arms_when_stopped=maybe("yes", "no"),
        motor_off=maybe("-95", "-80"),
        hover_throttle=maybe("-40", "0", "16.5", "60"),
        hover_collective=maybe("10", "30") if collective else None,
        governed_above=maybe("20") if collective else None,
        throttle_trim=maybe("0", "10", "25"),
        chemistry=draw(st.sampled_from(("lipo", "lihv", "li-ion", "life"))) if battery else None,
        cells=draw(st.sampled_from(("1", "3", "6", "12"))) if battery else None,
        capacity_mah=maybe("2600") if battery else None,
        hover_current_a=maybe("27") if battery else None,
        resistance_mohm=maybe("0", "3") if battery else None,
        pack_sensor=battery and draw(st.booleans()),
        link_sensor=draw(st.booleans()),
        idle_up=maybe("45", "80") if collective else None,
        soften=maybe("0.5", "0.6"),
        level=maybe("100", "-60"),
        lift=lift,
        rescue_pitch=maybe("45") if collective and lift is None else None,
    )


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(wishes())
def test_a_lint_finds_nothing_in_it_whatever_is_known(wish: Wishes) -> None:
    text, report = checked_text(wish, "x.toml")
    given = set()
    if wish.idle_up and wish.governed_above is None:
        given.add("mode-jump")  # the speeds asked for are far apart
    if wish.soften and wish.throttle_trim not in (None, "0"):
        given.add("curve-steep-outside")  # the trim's foot and the soft middle leave little room between them
    if wish.pack_sensor and not wish.link_sensor:
        given.add("link-alarm-missing")
    if wish.chemistry == "life":
        given.add("voltage-warns-late")  # where no timer can be worked out
        given.add("voltage-alarm-late")  # its voltage is so flat that what is in time may be far from empty
    if wish.resistance_mohm == "0":
        given.add("value-doubtful")  # no pack has none
    unknown = {"sticks.throttle.trim"} if wish.throttle_trim is None else set()
    assert {f.subject for f in report.findings if f.rule == "dangers-not-judged"} <= unknown
    given.add("dangers-not-judged")
    assert [(f.rule, f.message) for f in report.findings if f.rule not in given] == [], text
