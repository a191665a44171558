"""The questions of `setuplint new`, asked one by one on a terminal. Each is one of its options, put plainly."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from setuplint.cli.habits import Habit, usual
from setuplint.cli.new_options import label, name, number, place, whole
from setuplint.cli.trouble import Trouble
from setuplint.formats.terminal import plain

UNKNOWN = ("", "?", "don't know", "don't know yet", "dont know")
PERCENT = number(-150, 150)
Given = dict[str, Any]
Applies = Callable[[Given], bool]


@dataclass(frozen=True, slots=True)
class Question:
    """What one option means to a pilot. `words` are the answers that may be given, with the option's value for each; without
    words `read` makes the value of what is written. `needed`: it cannot be left out."""

    option: str
    text: str
    words: tuple[tuple[str, object], ...] = ()
    read: Callable[[str], object] | None = None
    applies: Applies = lambda given: True
    needed: bool = False
    usual: str = ""  # which of the habits of the other craft of the radio answers it


def _collective(given: Given) -> bool:
    return given.get("rotor") == "collective"


def _rescued(given: Given) -> bool:
    return not given.get("without_rescue")


YES_NO = (("yes", "yes"), ("no", "no"))
FLAG = (("yes", True), ("no", False))

QUESTIONS = (
    Question("rotor", "What carries it: blades whose pitch you change (collective), or rotor speed alone (fixed)?",
             (("collective", "collective"), ("fixed", "fixed")), needed=True),
    Question("name", "What is the craft called?", read=label),
    Question("radio", "A name for the transmitter, the same in each of its setups?", read=label),
    Question("governed_above", "Is there a governor? From which motor output on does it hold the speed (-100 to 100)?",
             read=PERCENT),
    Question("soft_start", "Does the motor take 2 s or more from a stop to full speed?", YES_NO),
    Question("arms_when_stopped", "Does the speed controller arm only with the throttle at a stop? (Tried, blades off.)",
             YES_NO),
    Question("motor_off", "At or below which motor output does the motor stay stopped? (Tried on the bench; 0 on a "
             "scale from 0 to 100 is -100 here.)", read=PERCENT),
    Question("hover_throttle", "What is the motor's output in a steady hover? (Measured in flight.)", read=PERCENT),
    Question("hover_collective", "What is the collective's output in a steady hover? (Measured in flight.)",
             read=PERCENT, applies=_collective),
    Question("throttle_trim", "How many percent can the throttle trim add, either way? (0 if it is switched off.)",
             read=number(0, 100)),
    Question("hold_switch", "Which switch is the throttle hold? It should do nothing else, and stay where it is put.",
             read=name, usual="hold"),
    Question("hold_place", "Where is it on the transmitter?", read=label),
    Question("without_rescue", "Is there a switch that springs back when you let go, for a rescue?",
             (("yes", False), ("no", True))),
    Question("rescue_switch", "What is that one called?", read=name, applies=_rescued, usual="rescue"),
    Question("rescue_place", "Where is it on the transmitter?", read=label, applies=_rescued),
    Question("level", "Which output tells the stabiliser to level the craft?", read=PERCENT, applies=_rescued),
    Question("lift", "Does the stabiliser move the collective by itself in a rescue?", (("yes", "unit"), ("no", None)),
             applies=lambda given: _collective(given) and _rescued(given)),
    Question("rescue_pitch", "What collective output lifts it in a rescue, then?", read=PERCENT,
             applies=lambda given: _collective(given) and _rescued(given) and given.get("lift") is None),
    Question("rescue_power", "What motor output should the rescue give? (Not known: it follows from the hover.)",
             read=PERCENT, applies=_rescued),
    Question("idle_up", "An idle-up mode, the motor on at low stick? At which motor output?", read=PERCENT,
             applies=_collective),
    Question("flight_switch", "Which switch is the flight mode's?", read=name, usual="flight",
             applies=lambda given: given.get("idle_up") is not None),
    Question("flight_place", "Where is it on the transmitter?", read=label,
             applies=lambda given: given.get("idle_up") is not None),
    Question("soften", "How soft around the hover? A straight line has 1, 0.6 is soft.", read=number(0.05, 3),
             applies=lambda given: bool(given.get("hover_throttle") or given.get("hover_collective"))),
    Question("chemistry", "What pack?", tuple((kind, kind) for kind in ("lipo", "lihv", "li-ion", "life"))),
    Question("cells", "How many cells in series?", read=whole),
    Question("capacity_mah", "Its capacity, mAh?", read=number(1, 1_000_000)),
    Question("hover_current_a", "The current in a hover, A?", read=number(0.1, 1000)),
    Question("resistance_mohm", "The whole pack's resistance, warm, milliohm?", read=number(0, 10_000)),
    Question("pack_sensor", "Is the pack's voltage sent back to the transmitter?", FLAG,
             applies=lambda given: bool(given.get("cells") and given.get("chemistry"))),
    Question("link_sensor", "Is the quality of the link sent back?", FLAG),
    Question("failsafe", "With the link gone, should the receiver stop the motor (stop), or a stabiliser that can land it "
             "take over (unit)?", (("stop", "stop"), ("unit", "unit"))),
    Question("start_check", "Can the transmitter refuse to start unless the hold is on and the stick down?", YES_NO),
    Question("number", "Which places at the receiver, like motor=2 pitch=6?",
             read=lambda text: [place(each) for each in text.split()]),
)  # fmt: skip


def ask(args: argparse.Namespace, given: set[str], possible: Callable[[argparse.Namespace], object]) -> None:
    """Ask for every option that was not given, and fill them in. Trouble where the answers end too soon. `possible` raises
    Trouble where answers do not go together: the last one is then asked again, since all others would be lost at the end."""
    say("Answer each question; an empty line is “don't know yet”: that is left out, and lint will list it.")
    known: Given = {option: getattr(args, option) for option in given}
    for question in QUESTIONS:
        if question.option in given or not question.applies(known):
            continue
        found = usual(Path(args.file).parent, known["radio"]) if question.usual and known.get("radio") else {}
        before, went = getattr(args, question.option), not against(possible, args)
        while (value := answer(question, found.get(question.usual))) is not None:
            setattr(args, question.option, value)
            why = against(possible, args)
            if not (why and went):
                known[question.option] = value
                break
            say(f"  {why}")
            setattr(args, question.option, before)


def against(possible: Callable[[argparse.Namespace], object], args: argparse.Namespace) -> str:
    """What speaks against all that is known so far; empty where nothing does."""
    try:
        possible(args)
    except Trouble as trouble:
        return str(trouble)
    return ""


def answer(question: Question, habit: Habit | None) -> object:
    """What is answered, as the option's value; None where it is not known."""
    hints = [word for word, _ in question.words]
    text = question.text + (f" [{'/'.join(hints)}]" if hints else "")
    if habit is not None:
        text += f" [{plain(habit.switch)}, as on {plain(habit.craft)}]"
    while True:
        written = line(text)
        if not written and habit is not None:
            written = habit.switch
        if written.lower() in UNKNOWN:
            if not question.needed:
                return None
            say("  This one is needed: all else depends on it.")
            continue
        for value in read(question, written):
            return value


def read(question: Question, written: str) -> Iterator[object]:
    """The value of an answer; says why where it is none."""
    if question.words:
        fitting = [value for word, value in question.words if word.startswith(written.lower())]
        if len(fitting) == 1:
            yield fitting[0]
        else:
            say(f"  One of {', '.join(word for word, _ in question.words)}, or an empty line.")
        return
    assert question.read is not None
    try:
        yield question.read(written)
    except argparse.ArgumentTypeError as error:
        say(f"  {error}")


def say(text: str) -> None:
    sys.stderr.write(f"{text}\n")


def line(prompt: str) -> str:
    sys.stderr.write(f"{prompt} ")
    sys.stderr.flush()
    written = sys.stdin.readline()
    if not written:
        raise Trouble("the answers end here: nothing was written")
    return written.strip()
