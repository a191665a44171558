"""`setuplint new --ask`: plain questions, a way back, a draft, and a safe file at their end."""

from __future__ import annotations

import json
import os
import select
import signal
import sys
import tomllib
from contextlib import suppress
from pathlib import Path

import pytest

from setuplint.cli.new_options import OPTIONS
from setuplint.interview.course import course
from setuplint.interview.data import interview
from tests.cli.running import Command, environment, waits_for_the_trim_alone

WAGTAIL = {
    "rotor": "collective",
    "name": "Wagtail 470",
    "soft_start": "yes",
    "motor_off": "2.5 of 100",
    "hover_throttle": "58 of 100",
    "hover_collective": "+30 %",
    "throttle_trim": "0",
    "hold_switch": "stopper",
    "hold_place": "right shoulder",
    "modes": "normal, idle up",
    "idle_up idle-up": "1690 µs",
    "rescue_switch": "bail",
    "level": "100",
    "level_normal": "-100",
    "lift": "unit",
    "chemistry": "lipo",
    "cells": "6S",
    "capacity_mah": "2,6 Ah",
    "hover_current_a": "27A",
    "resistance_mohm": "21",
    "pack_sensor": "y",
    "link_sensor": "y",
    "supply": "regulator",
    "supply_volts": "6V",
    "trainer_switch": "lend",
    "number": "motor=2 pitch=6",
}


def typed(replies: dict[str, str]) -> list[str]:
    """What is typed for these replies, an empty line for every other question, and one at the end."""
    known: dict[str, str] = {}
    while (step := course(known, asking=True).next) is not None:
        known[step.key] = replies.get(step.key, "")
    return [*known.values(), ""]


def stdin(lines: list[str]) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode()


def test_the_answers_make_a_file_in_which_nothing_is_found(command: Command, folder: Path) -> None:
    done = command("new", "wagtail.toml", "--ask", stdin=stdin(typed(WAGTAIL)))
    assert done.status == 0, done.out + done.err
    assert "nothing found" in done.words
    assert "Not judged" not in done.out
    assert "Next: setuplint sheet wagtail.toml" in done.out
    assert "= +16 % (58 of 100, 1580 µs)" in done.err, "what was understood"
    values = tomllib.loads((folder / "wagtail.toml").read_text(encoding="utf-8"))
    assert values["craft"]["name"] == "Wagtail 470"
    assert values["craft"]["motor-off"] == -95
    assert values["battery"]["capacity-mah"] == 2600
    assert values["switches"]["stopper"]["place"] == "right shoulder"
    assert values["switches"]["bail"]["kind"] == "momentary"
    assert values["intent"]["lift"] == "unit"
    assert values["curves"]["throttle-normal"]["points"] == [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]
    assert values["curves"]["throttle-idle-up"]["points"] == [[-100, 38], [100, 38]]
    assert values["channels"]["attitude"]["from"] == -100
    assert values["receiver-supply"] == {"kind": "regulator", "volts": 6}
    assert values["trainer"] == {"lent": "lend is pulled", "sticks": ["aileron", "elevator"]}
    assert values["claims"][0]["always"] == "not (aileron > 50) or output roll > 0 or lend is pulled"
    assert values["channels"]["pitch"]["number"] == 6
    assert [path.name for path in folder.iterdir()] == ["wagtail.toml"], "no draft is left"


def test_knowing_nothing_but_the_rotor_leaves_the_rest_out(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--ask", stdin=stdin(typed({"rotor": "fixed"})))
    assert waits_for_the_trim_alone(done), done.out + done.err
    assert "Not judged" in done.out
    values = tomllib.loads((folder / "x.toml").read_text(encoding="utf-8"))
    assert values["craft"] == {"rotor": "fixed"}
    assert "battery" not in values
    assert set(values["overrides"]) == {"held"}, "no power for a rescue is made up"


def test_a_wrong_answer_is_asked_again_with_the_reason(command: Command, folder: Path) -> None:
    lines = typed(WAGTAIL)
    at = {line: lines.index(line) for line in ("collective", "58 of 100", "bail")}
    lines[at["bail"] : at["bail"]] = ["stopper"]
    lines[at["58 of 100"] : at["58 of 100"]] = ["-96", "sixty"]
    lines[:0] = ["helicopter", ""]
    done = command("new", "wagtail.toml", "--ask", stdin=stdin(lines))
    assert done.status == 0, done.out + done.err
    words = " ".join(done.err.split())
    assert "One of collective, fixed" in words
    assert "This one is needed" in words
    assert "that is not above -95 % (2.5 of 100, 1025 µs), where the motor is stopped" in words
    assert "“sixty” is not an output" in words
    assert "stopper is in use already" in words


def test_back_takes_an_answer_back_and_offers_it_again(command: Command, folder: Path) -> None:
    lines = ["fixed", "multirotor", "Wern", "back", "Wren", "back", "back", "", ""]
    done = command("new", "x.toml", "--ask", stdin=stdin([*lines, *[""] * 60]))
    assert waits_for_the_trim_alone(done), done.out + done.err
    assert "[Wern, as before]" in done.err
    craft = tomllib.loads((folder / "x.toml").read_text(encoding="utf-8"))["craft"]
    assert craft == {"name": "Wren", "kind": "multirotor", "rotor": "fixed"}


def test_known_and_help_say_what_they_should(command: Command, folder: Path) -> None:
    lines = ["back", "fixed", "known", "help", *[""] * 60]
    done = command("new", "x.toml", "--ask", stdin=stdin(lines))
    assert "This is the first question." in done.err
    assert "  what carries it: fixed\n" in done.err
    assert "One of helicopter, multirotor." in done.err


def test_an_end_of_the_answers_keeps_a_draft_and_the_next_start_goes_on(command: Command, folder: Path) -> None:
    done = command("new", "x.toml", "--ask", stdin=b"fixed\n\nWagtail\n")
    assert done.status == 2
    assert "x.toml was not written; they are kept in x.toml.draft, and setuplint new x.toml goes on" in done.err
    assert not (folder / "x.toml").exists()
    done = command("new", "x.toml", "--ask", stdin=stdin(["yes", *[""] * 60]))
    assert waits_for_the_trim_alone(done), done.out + done.err
    assert "x.toml.draft has 3 answers" in done.err
    assert done.err.count("What is the craft called") == 0
    assert 'name = "Wagtail"' in (folder / "x.toml").read_text(encoding="utf-8")
    assert not (folder / "x.toml.draft").exists()


def test_answers_that_were_taken_back_are_kept_with_the_rest(command: Command, folder: Path) -> None:
    """Whoever goes back to mend one, and ends there, has the others still."""
    lines = [*stdin(["fixed", "", "Wagtail", "blue"]).splitlines(), b"back", b"back", b"back", b"multirotor"]
    command("new", "x.toml", "--ask", stdin=b"\n".join(lines) + b"\n")
    kept = json.loads((folder / "x.toml.draft").read_text(encoding="utf-8"))["replies"]
    assert list(kept.items()) == [("rotor", "fixed"), ("kind", "multirotor"), ("name", "Wagtail"), ("radio", "blue")]
    done = command("new", "x.toml", "--ask", stdin=stdin(["yes", "back", *[""] * 60]))
    assert "x.toml.draft has 4 answers" in done.err
    assert done.err.count("What is the craft called") == 0
    assert "[blue, as before]" in done.err


def test_a_draft_goes_on_at_the_first_question_that_is_open(command: Command, folder: Path) -> None:
    draft = {"setuplint draft": 1, "replies": {"rotor": "fixed", "name": "Wagtail", "radio": "blue"}}
    (folder / "x.toml.draft").write_text(json.dumps(draft), encoding="utf-8")
    done = command("new", "x.toml", "--ask", stdin=stdin(["yes", "", "back", "", "quit"]))
    assert done.err.count("Is it a helicopter or a multirotor?") == 2, "back goes to it, and not to the radio"
    assert "[Wagtail, as before]" in done.err
    assert json.loads((folder / "x.toml.draft").read_text(encoding="utf-8"))["replies"]["radio"] == "blue"


@pytest.mark.parametrize("mine", ["", "notes\n", '{"setuplint draft": 2}', "[" * 100_000])
def test_a_file_of_the_user_s_is_never_a_draft(command: Command, folder: Path, mine: str) -> None:
    (folder / "x.toml.draft").write_text(mine, encoding="utf-8")
    done = command("new", "x.toml", "--ask", stdin=b"fixed\nquit\n")
    assert done.status == 2
    assert "kept in x.toml.draft-2" in done.err
    assert (folder / "x.toml.draft").read_text(encoding="utf-8") == mine
    assert json.loads((folder / "x.toml.draft-2").read_text(encoding="utf-8"))["replies"] == {"rotor": "fixed"}


def test_a_draft_that_says_nonsense_is_asked_anew(command: Command, folder: Path) -> None:
    draft = {"setuplint draft": 1, "replies": {"rotor": "none", "wing": "3", "kind": 4}}
    (folder / "x.toml.draft").write_text(json.dumps(draft), encoding="utf-8")
    done = command("new", "x.toml", "--ask", stdin=stdin(["yes", "fixed", *[""] * 60]))
    assert waits_for_the_trim_alone(done), done.out + done.err


def test_a_folder_that_is_not_there_is_said_before_the_questions(command: Command, folder: Path) -> None:
    done = command("new", "none/x.toml", "--ask", stdin=b"fixed\n")
    assert done.status == 2
    assert "cannot write none/x.toml: there is no such folder" in done.err
    assert "What carries it" not in done.err


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
    done = command("new", "x.toml", "--rotor", "fixed", "--rescue-switch", "no")
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
    asked = {f"--{question.key.replace('_', '-')}" for question in interview().questions}
    ways = {"file", "--ask", "--page", "--readings-page", "--from-readings"}
    assert asked == {each.names[0] for each in OPTIONS} - ways


def test_no_word_about_the_interview_is_an_answer() -> None:
    words = {"back", "known", "help", "quit", "unknown"}
    assert [question.key for question in interview().questions if words & {*question.choices}] == []


def test_every_question_that_is_not_always_asked_says_for_what_it_is() -> None:
    sometimes = [q for q in interview().questions if q.when is not None or q.each is not None]
    assert [q.key for q in sometimes if not q.only] == []


@pytest.mark.skipif(sys.platform == "win32", reason="no terminal of that kind")
def test_on_a_terminal_an_interrupt_keeps_the_answers(folder: Path) -> None:
    import pty  # not on every system

    child, terminal = pty.fork()
    if child == 0:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # ignored in what a shell starts behind it, and that is inherited
        os.execve(sys.executable, [sys.executable, "-m", "setuplint", "new", "x.toml"], environment())
    seen, waiting = "", {"(fixed)?": b"fixed\n", "a multirotor?": b"\n", "craft called?": b"\x03"}
    while waiting and select.select([terminal], [], [], 30)[0]:
        seen += os.read(terminal, 4096).decode()
        for words in [words for words in waiting if words in " ".join(seen.split())]:
            os.write(terminal, waiting.pop(words))
    with suppress(OSError):
        while select.select([terminal], [], [], 30)[0] and (data := os.read(terminal, 4096)):
            seen += data.decode()
    os.close(terminal)
    os.kill(child, signal.SIGKILL)  # nothing, where it has ended by itself
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 130
    assert "kept in x.toml.draft" in " ".join(seen.split()), seen
    kept = json.loads((folder / "x.toml.draft").read_text(encoding="utf-8"))["replies"]
    assert kept == {"rotor": "fixed", "kind": ""}
