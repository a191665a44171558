"""The interview on a terminal: one question after the other, with a way back, and a draft that is kept."""

from __future__ import annotations

import io
import sys
from functools import cache, partial
from itertools import takewhile
from pathlib import Path

from setuplint.cli.console import stdout_look, write_error
from setuplint.cli.drafts import Draft
from setuplint.cli.files import printable
from setuplint.cli.new_options import option_name
from setuplint.cli.radio_habits import SwitchHabit, habits_by_question
from setuplint.cli.trouble import Trouble, complain
from setuplint.formats.numbers import counted
from setuplint.formats.terminal import plain, wrap
from setuplint.interview.course import Course, Step, course
from setuplint.interview.data import interview
from setuplint.interview.replies import shown_answer, tidied

INTRO = """\
Answer each question. Enter takes what stands in brackets; where nothing does, it is “not known”: that is left out, and lint \
lists it. Percent, “58 of 100”, microseconds and units are understood."""
WAYS = "Also: back (the question before), known (all answers so far), help, unknown, quit (the answers are kept)."
END = "That is all. Write it? Enter writes, back goes back, known shows all answers."


class Stopped(Exception):
    """The answers end before the questions do."""


class TerminalInterview:
    """One interview. `given` are replies that are not asked for; `typed` those that were, in their order."""

    def __init__(self, file: str, given: dict[str, str]) -> None:
        self.file, self.given = file, given
        self.typed: dict[str, str] = {}
        self.before: dict[str, str] = {}  # replies that were taken back, offered again
        self.draft = Draft(file)
        self.habits = cache(partial(habits_by_question, Path(file).parent))  # by radio: the folder's setups are read
        self.section = ""

    def replies(self) -> dict[str, str]:
        """All replies, once every question is answered. Trouble where they end too soon; the draft says where they are."""
        if isinstance(sys.stdin, io.TextIOWrapper):
            sys.stdin.reconfigure(errors="surrogateescape")  # bytes that are no characters: no reader takes them
        self._say(INTRO)
        self._say(WAYS)
        try:
            self._take_draft()
            while self._ask_next():
                pass
        except KeyboardInterrupt:
            write_error("\n")
            complain(self._kept_words())
            raise
        except Stopped:
            raise Trouble(self._kept_words()) from None
        asked = course({**self.given, **self.typed}, asking=False).asked  # a draft may hold what is not asked any more
        return {**self.given, **{key: reply for key, reply in self.typed.items() if key in asked}}

    def _take_draft(self) -> None:
        if self.draft.trouble:
            self._say(f"No draft is kept: {self.draft.trouble}.")
        if self.draft.replies:
            where = printable(self.draft.path)
            self._say(
                f"{where} has {counted(len(self.draft.replies), 'answer')} of an interview that was not finished."
            )
            if self._line("Go on with it? [yes]").lower() in ("", "y", "yes"):
                kept = {key: reply for key, reply in self.draft.replies.items() if key not in self.given}
                reached = {step.key for step in course({**self.given, **kept}, asking=True).steps}
                self.typed = {key: reply for key, reply in kept.items() if key in reached}
                self.before = {key: kept[key] for key in reversed(kept) if key not in reached}

    def _ask_next(self) -> bool:
        """Asks one question, or takes a word that is about the interview. False once all are answered."""
        found = course({**self.given, **self.typed}, asking=True)
        habits = self.habits(found.answers.get("radio"))
        if habits:
            suggested = {key: habit.switch for key, habit in habits.items()}
            found = course({**self.given, **self.typed}, asking=True, suggested=suggested)
        step = found.next
        if step is None:
            return self._at_end(found)
        if step.complaint:
            self._complain(step)
        self._head(step, found)
        habit = habits.get(step.question.key)
        reply = self._line(self._prompt(step, habit))
        if not self._is_word(reply, found, step):
            offered = habit.switch if habit is not None else ""
            self._keep(step, reply or self.before.get(step.key) or offered)
        return True

    def _complain(self, step: Step) -> None:
        if step.key in self.given:
            raise Trouble(f"{option_name(step.question.key)} {step.reply}: {step.complaint}")
        self._say(f"  {step.complaint}")
        self.typed.pop(step.key, None)

    def _keep(self, step: Step, reply: str) -> None:
        self.typed[step.key] = reply
        self.before.pop(step.key, None)
        again = course({**self.given, **self.typed}, asking=True)
        understood = next((each for each in again.steps if each.key == step.key), None)
        if understood is None:
            return  # it is asked again, with the reason
        self.draft.keep({**self.typed, **dict(reversed(self.before.items()))})  # as before, where nothing else is said
        if self.draft.trouble:
            self._say(f"  {self.draft.trouble}")
            self.draft.trouble = ""
        words = shown_answer(interview(), step.question, understood.answer)
        if reply and words not in (reply, tidied(interview(), reply)):
            self._say(f"  = {words}")

    def _is_word(self, reply: str, found: Course, step: Step | None) -> bool:
        """Whether a reply is about the interview, and done."""
        match reply.lower():
            case "back":
                self._go_back()
            case "known":
                self._say_known(found)
            case "help" if step is not None:
                self._help(step)
            case "quit":
                raise Stopped
            case _:
                return False
        return True

    def _go_back(self) -> None:
        if not self.typed:
            self._say("  This is the first question.")
            return
        key, reply = self.typed.popitem()
        self.before[key] = reply
        self.section = ""

    def _help(self, step: Step) -> None:
        question = step.question
        if question.help:
            self._say(f"  {question.help}")
        if question.yes_no or question.choices:
            self._say(f"  One of {', '.join(question.choices or ('yes', 'no'))}.")
        else:
            says = interview().readers["names" if question.sticks else question.reader]["says"]
            self._say(f"  It takes {says}{', or no' if question.none else ''}.")
        self._say(f"  {WAYS}")

    def _say_known(self, found: Course) -> None:
        for step in found.steps:
            of = f" ({step.item})" if step.item is not None else ""
            self._say(f"  {step.question.label}{of}: {shown_answer(interview(), step.question, step.answer)}")

    def _head(self, step: Step, found: Course) -> None:
        """The section's name, where a new one begins."""
        upto = takewhile(lambda each: each.key != step.question.key, interview().questions)
        section = [each.section for each in (*upto, step.question) if each.section][-1]
        if section != self.section:
            self.section = section
            self._say(f"\n{self.section} ({counted(len(found.steps), 'answer')} so far)")

    def _prompt(self, step: Step, habit: SwitchHabit | None) -> str:
        if self.before.get(step.key):
            offered = f"{plain(self.before[step.key])}, as before"
        elif step.default is None:
            offered = ""
        else:
            offered = shown_answer(interview(), step.question, step.default)
        if habit is not None and offered == habit.switch:
            offered += f", as on {plain(habit.craft)}"
        choices = (
            f" ({'/'.join(step.question.choices or ('yes', 'no'))})"
            if step.question.choices or step.question.yes_no
            else ""
        )
        return f"{step.text}{choices}{f' [{offered}]' if offered else ''}"

    def _at_end(self, found: Course) -> bool:
        reply = self._line(f"\n{END}")
        if self._is_word(reply, found, None):
            return True
        return reply.lower() not in ("", "y", "yes")

    def _kept_words(self) -> str:
        name = printable(self.file)
        if self.draft.path and self.typed:
            kept = f"they are kept in {printable(self.draft.path)}, and setuplint new {name} goes on from there"
            return f"the answers end here: {name} was not written; {kept}"
        return "the answers end here: nothing was written"

    def _say(self, text: str) -> None:
        lines = [
            line
            for part in text.split("\n")
            for line in wrap(plain(part), stdout_look().width, _indent(part), _indent(part))
        ]
        write_error("\n".join(lines) + "\n")

    def _line(self, prompt: str) -> str:
        start, _, last = "\n".join(wrap(plain(prompt.lstrip("\n")), stdout_look().width)).rpartition("\n")
        write_error(("\n" if prompt.startswith("\n") else "") + (f"{start}\n" if start else "") + f"{last} ")
        written = sys.stdin.readline()
        if not written:
            raise Stopped
        return written.strip()


def _indent(text: str) -> str:
    return text[: len(text) - len(text.lstrip(" "))]
