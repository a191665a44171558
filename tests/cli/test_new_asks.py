"""`setuplint new --ask`: plain questions, and a safe file at their end."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from setuplint.cli.new_options import BY_NAME
from setuplint.cli.questions import QUESTIONS
from tests.cli.running import Command, waits_for_the_trim_alone

WAGTAIL = {
    "rotor": "collective",
    "name": "Wagtail 470",
    "radio": "blue",
    "soft_start": "yes",
    "motor_off": "-95",
    "hover_throttle": "16",
    "hover_collective": "30",
    "throttle_trim": "0",
    "hold_switch": "stopper",
    "hold_place": "right shoulder",
    "without_rescue": "yes",
    "rescue_switch": "bail",
    "level": "100",
    "lift": "yes",
    "idle_up": "38",
    "soften": "0.6",
    "chemistry": "lipo",
    "cells": "6",
    "capacity_mah": "2600",
    "hover_current_a": "27",
    "pack_sensor": "yes",
    "link_sensor": "yes",
    "number": "motor=2 pitch=6",
}
SKIPPED = {"rescue_pitch"}  # not asked where the unit lifts


def answers(given: dict[str, str], skipped: set[str] = SKIPPED) -> bytes:
    asked = [question.option for question in QUESTIONS if question.option not in skipped]
    return "".join(f"{given.get(option, '')}\n" for option in asked).encode()


def test_the_answers_make_a_file_in_which_nothing_is_found(command: Command, folder: Path) -> None:
    done = command("new", "wagtail.toml", "--ask", stdin=answers(WAGTAIL))
    assert done.status == 0, done.out + done.err
    assert "nothing found" in done.words
    assert "Next: setuplint sheet wagtail.toml" in done.out
    values = tomllib.loads((folder / "wagtail.toml").read_text(encoding="utf-8"))
    assert values["craft"]["name"] == "Wagtail 470"
    assert values["switches"]["stopper"]["place"] == "right shoulder"
    assert values["switches"]["bail"]["kind"] == "momentary"
    assert values["intent"]["lift"] == "unit"
    assert values["curves"]["throttle-normal"]["points"] == [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]
    assert values["channels"]["pitch"]["number"] == 6


def test_knowing_nothing_but_the_rotor_leaves_the_rest_out(command: Command, folder: Path) -> None:
    skipped = {
        "hover_collective",
        "lift",
        "rescue_pitch",
        "idle_up",
        "flight_switch",
        "flight_place",
        "soften",
        "pack_sensor",
    }
    done = command("new", "x.toml", "--ask", stdin=answers({"rotor": "fixed"}, skipped))
    assert waits_for_the_trim_alone(done), done.out + done.err
    assert "Not judged" in done.out
    values = tomllib.loads((folder / "x.toml").read_text(encoding="utf-8"))
    assert values["craft"] == {"rotor": "fixed"}
    assert "battery" not in values


def test_a_wrong_answer_is_asked_again(command: Command, folder: Path) -> None:
    text = b"helicopter\n\nfixed\n" + b"\n" * 60
    done = command("new", "x.toml", "--ask", stdin=text)
    assert waits_for_the_trim_alone(done), done.out + done.err
    assert "One of collective, fixed, or an empty line." in done.err
    assert "This one is needed" in done.err


def test_what_does_not_go_with_the_answers_before_is_asked_again(command: Command, folder: Path) -> None:
    """At the end it would be too late: all answers would be lost."""
    said = answers(WAGTAIL).replace(b"16\n30\n", b"-96\n16\n30\n").replace(b"bail\n", b"stopper\nbail\n")
    said = said.replace(b"motor=2 pitch=6\n", b"motor=2 pitch=2\nmotor=2 pitch=6\n")
    done = command("new", "wagtail.toml", "--ask", stdin=said)
    assert done.status == 0, done.out + done.err
    assert "is not above --motor-off -95" in done.err
    assert "a switch of their own, not stopper, stopper" in done.err
    assert "--number gives two channels one place" in done.err
    assert (folder / "wagtail.toml").read_text(encoding="utf-8").count("stopper is on") == 4


def test_an_end_of_the_answers_writes_nothing(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--ask", stdin=b"fixed\nWagtail\n")
    assert done.status == 2
    assert "the answers end here: nothing was written" in done.err
    assert not (folder / "x.toml").exists()


def test_what_an_option_says_is_not_asked(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--ask", "--rotor", "fixed", "--name", "Wren", stdin=b"\n" * 60)
    assert waits_for_the_trim_alone(done), done.out + done.err
    assert "What carries it" not in done.err
    assert "What is the craft called" not in done.err
    assert 'name = "Wren"' in (folder / "x.toml").read_text(encoding="utf-8")


def test_the_other_craft_of_the_radio_say_which_switch(command: Command, folder: Path) -> None:
    first = ("--rotor", "fixed", "--name", "Wren", "--radio", "blue", "--hold-switch", "cut", "--rescue-switch", "bail")
    command("new", "wren.toml", *first)
    done = command("new", "x.toml", "--ask", "--rotor", "fixed", "--radio", "blue", stdin=b"\n" * 60)
    assert waits_for_the_trim_alone(done), done.out + done.err
    assert "[cut, as on Wren]" in done.err
    values = tomllib.loads((folder / "x.toml").read_text(encoding="utf-8"))
    assert set(values["switches"]) == {"cut", "bail"}


def test_without_a_sprung_switch_there_is_no_rescue(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--rotor", "fixed", "--without-rescue")
    assert waits_for_the_trim_alone(done), done.out + done.err
    values = tomllib.loads((folder / "x.toml").read_text(encoding="utf-8"))
    assert set(values["switches"]) == {"hold"}
    assert "rescue" not in values["intent"]


@pytest.mark.parametrize("failsafe", ["stop", "unit"])
def test_the_failsafe_is_as_asked(command: Command, folder: Path, failsafe: str) -> None:
    command("new", "x.toml", "--rotor", "fixed", "--failsafe", failsafe)
    values = tomllib.loads((folder / "x.toml").read_text(encoding="utf-8"))
    assert values["failsafe"]["motor"] == (-100 if failsafe == "stop" else "unit")


def test_every_question_is_an_option_and_every_option_a_question() -> None:
    assert {question.option for question in QUESTIONS} == BY_NAME.keys() - {"file", "ask", "kind"}
