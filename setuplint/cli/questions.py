"""The questions of `setuplint new`, asked one by one on a terminal. Each is one of its options, put plainly."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from setuplint.cli.console import write_error
from setuplint.cli.new_options import BY_NAME
from setuplint.cli.radio_habits import SwitchHabit, switch_habits
from setuplint.cli.trouble import Trouble
from setuplint.formats.terminal import plain

UNKNOWN = ("", "?", "don't know", "don't know yet", "dont know")
FLAG = {"yes": True, "no": False}
Known = Mapping[str, Any]


class OptionQuestion(NamedTuple):
    """What one option means to a pilot. `values` are the words that may be answered and the option's value for each, where
    these are not the option's own. `needed`: it cannot be left out."""

    option: str
    text: str
    values: Mapping[str, object] | None = None
    applies: Callable[[Known], bool] = lambda known: True
    needed: bool = False
    habit: str = ""  # the purpose of a switch: the other craft of the radio may have one for it

    @property
    def words(self) -> Mapping[str, object]:
        """The words that may be answered; none where what is written is the answer."""
        settings = BY_NAME[self.option].settings
        if self.values is not None:
            return self.values
        return FLAG if settings.get("action") == "store_true" else {word: word for word in settings.get("choices", ())}

    def value(self, written: str) -> object:
        """The option's value of an answer. argparse.ArgumentTypeError where it has none."""
        if self.words:
            fitting = [value for word, value in self.words.items() if word.startswith(written.lower())]
            if len(fitting) != 1:
                raise argparse.ArgumentTypeError(f"One of {', '.join(self.words)}, or an empty line.")
            return fitting[0]
        settings = BY_NAME[self.option].settings
        if settings.get("action") == "append":
            return [settings["type"](each) for each in written.split()]
        return settings["type"](written)


def _collective(known: Known) -> bool:
    return known.get("rotor") == "collective"


def _rescued(known: Known) -> bool:
    return not known.get("without_rescue")


def _idle_up(known: Known) -> bool:
    return known.get("idle_up") is not None


def _lift_asked(known: Known) -> bool:
    return _collective(known) and _rescued(known)


QUESTIONS = (
    OptionQuestion("rotor", "What carries it: blades whose pitch you change (collective), or rotor speed alone (fixed)?",
                   needed=True),
    OptionQuestion("name", "What is the craft called?"),
    OptionQuestion("radio", "A name for the transmitter, the same in each of its setups?"),
    OptionQuestion("governed_above",
                   "Is there a governor? From which motor output on does it hold the speed (-100 to 100)?"),
    OptionQuestion("soft_start", "Does the motor take 2 s or more from a stop to full speed?"),
    OptionQuestion("arms_when_stopped",
                   "Does the speed controller arm only with the throttle at a stop? (Tried, blades off.)"),
    OptionQuestion("motor_off", "At or below which motor output does the motor stay stopped? (Tried on the bench; 0 on a "
                   "scale from 0 to 100 is -100 here.)"),
    OptionQuestion("hover_throttle", "What is the motor's output in a steady hover? (Measured in flight.)"),
    OptionQuestion("hover_collective", "What is the collective's output in a steady hover? (Measured in flight.)",
                   applies=_collective),
    OptionQuestion("throttle_trim", "How many percent can the throttle trim add, either way? (0 if it is switched off.)"),
    OptionQuestion("hold_switch",
                   "Which switch is the throttle hold? It should do nothing else, and stay where it is put.", habit="hold"),
    OptionQuestion("hold_place", "Where is it on the transmitter?"),
    OptionQuestion("without_rescue", "Is there a switch that springs back when you let go, for a rescue?",
                   {"yes": False, "no": True}),
    OptionQuestion("rescue_switch", "What is that one called?", applies=_rescued, habit="rescue"),
    OptionQuestion("rescue_place", "Where is it on the transmitter?", applies=_rescued),
    OptionQuestion("level", "Which output tells the stabiliser to level the craft?", applies=_rescued),
    OptionQuestion("lift", "Does the stabiliser move the collective by itself in a rescue?", {"yes": "unit", "no": None},
                   _lift_asked),
    OptionQuestion("rescue_pitch", "What collective output lifts it in a rescue, then?",
                   applies=lambda known: _lift_asked(known) and known.get("lift") is None),
    OptionQuestion("rescue_power", "What motor output should the rescue give? (Not known: it follows from the hover.)",
                   applies=_rescued),
    OptionQuestion("idle_up", "An idle-up mode, the motor on at low stick? At which motor output?", applies=_collective),
    OptionQuestion("flight_switch", "Which switch is the flight mode's?", applies=_idle_up, habit="flight"),
    OptionQuestion("flight_place", "Where is it on the transmitter?", applies=_idle_up),
    OptionQuestion("soften", "How soft around the hover? A straight line has 1, 0.6 is soft.",
                   applies=lambda known: bool(known.get("hover_throttle") or known.get("hover_collective"))),
    OptionQuestion("chemistry", "What pack?"),
    OptionQuestion("cells", "How many cells in series?"),
    OptionQuestion("capacity_mah", "Its capacity, mAh?"),
    OptionQuestion("hover_current_a", "The current in a hover, A?"),
    OptionQuestion("resistance_mohm", "The whole pack's resistance, warm, milliohm?"),
    OptionQuestion("pack_sensor", "Is the pack's voltage sent back to the transmitter?",
                   applies=lambda known: bool(known.get("cells") and known.get("chemistry"))),
    OptionQuestion("link_sensor", "Is the quality of the link sent back?"),
    OptionQuestion("failsafe", "With the link gone, should the receiver stop the motor (stop), or a stabiliser that can land "
                   "it take over (unit)?"),
    OptionQuestion("start_check", "Can the transmitter refuse to start unless the hold is on and the stick down?"),
    OptionQuestion("number", "Which places at the receiver, like motor=2 pitch=6?"),
)  # fmt: skip


def answered(known: Known, folder: Path, check: Callable[[Known], None]) -> dict[str, Any]:
    """What is known, with the answers about every option that is not. Trouble where the answers end too soon. `check` raises
    Trouble where answers do not go together: the last one is then asked again, since all others would be lost at the end."""
    _say("Answer each question; an empty line is “don't know yet”: that is left out, and lint will list it.")
    found = dict(known)
    for question in QUESTIONS:
        if question.option in found or not question.applies(found):
            continue
        habits = switch_habits(folder, found["radio"]) if question.habit and found.get("radio") else {}
        went = not _contradiction(check, found)
        while (value := _answer(question, habits.get(question.habit))) is not None:
            why = _contradiction(check, {**found, question.option: value})
            if not (why and went):
                found[question.option] = value
                break
            _say(f"  {why}")
    return found


def _contradiction(check: Callable[[Known], None], known: Known) -> str:
    """The contradiction in all that is known so far; empty where there is none."""
    try:
        check(known)
    except Trouble as trouble:
        return str(trouble)
    return ""


def _answer(question: OptionQuestion, habit: SwitchHabit | None) -> object:
    """What is answered, as the option's value; None where it is not known."""
    text = question.text + (f" [{'/'.join(question.words)}]" if question.words else "")
    if habit is not None:
        text += f" [{plain(habit.switch)}, as on {plain(habit.craft)}]"
    while True:
        written = _line(text)
        if not written and habit is not None:
            written = habit.switch
        try:
            if written.lower() not in UNKNOWN:
                return question.value(written)
            if not question.needed:
                return None
            _say("  This one is needed: all else depends on it.")
        except argparse.ArgumentTypeError as error:
            _say(f"  {error}")


def _say(text: str) -> None:
    write_error(f"{text}\n")


def _line(prompt: str) -> str:
    write_error(f"{prompt} ")
    written = sys.stdin.readline()
    if not written:
        raise Trouble("the answers end here: nothing was written")
    return written.strip()
