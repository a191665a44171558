"""The options of `setuplint new`: each question of the interview is one, and is then not asked."""

from __future__ import annotations

import argparse
from typing import Any

from setuplint.cli.options import Option, option
from setuplint.cli.trouble import Trouble
from setuplint.interview.data import Question, interview

METAVARS = {
    **{
        "name": "NAME",
        "names": "NAMES",
        "label": "TEXT",
        "places": "CHANNEL=N",
        "share": "PERCENT",
        "percent": "PERCENT",
    },
    **{"charge": "MAH", "current": "A", "resistance": "MOHM", "volts": "V", "seconds": "S"},
}
WIDEST = 45  # of a list of words in the usage; a longer one stands in the help
ASK = "ask for what is not given (as it is on a terminal, without --rotor)"


def _question_option(question: Question, heading: str) -> Option:
    settings: dict[str, Any] = {"default": argparse.SUPPRESS, "help": question.label.replace("%", "%%")}
    words = ("yes", "no") if question.yes_no else question.choices
    settings["metavar"] = "{" + ",".join(words) + "}" if words else METAVARS.get(question.reader, "N")
    if len(settings["metavar"]) > WIDEST:
        settings |= {"metavar": "KIND", "help": f"{settings['help']}: {', '.join(words)}"}
    if question.yes_no and question.each is None:
        settings |= {"nargs": "?", "const": "yes"}
    if question.each is not None:
        each = "PACK" if question.key.startswith("pack") else "MODE"
        settings |= {"action": "append", "metavar": f"{each}={settings['metavar']}"}
    elif question.reader == "places":
        settings["action"] = "append"
    return option(option_name(question.key), heading=heading, **settings)


def option_name(key: str) -> str:
    return f"--{key.replace('_', '-')}"


def _options() -> tuple[Option, ...]:
    heading, found = "", []
    for question in interview().questions:
        heading = question.section.lower() or heading
        found.append(_question_option(question, heading))
    return tuple(found)


OPTIONS = (
    option("file", metavar="FILE", help="the file to write; it must not exist yet; - prints it"),
    option("--ask", action="store_true", help=ASK),
    option("--page", action="store_true", help="FILE is a page (.html) that asks the same and writes the setup"),
    option("--readings-page", action="store_true", help="FILE is a page on which a transmitter that exists is read"),
    option("--from-readings", metavar="READINGS", help="what was read: a setup that gives the same"),
    *_options(),
)


def option_replies(args: argparse.Namespace) -> dict[str, str]:
    """What the options say, as replies by the keys of their questions. Trouble where one does not name its mode or pack."""
    replies: dict[str, str] = {}
    for question in interview().questions:
        given = getattr(args, question.key, None)
        if given is None:
            continue
        if question.each is None:
            replies[question.key] = " ".join(given) if isinstance(given, list) else given
            continue
        for text in given:
            item, equals, reply = text.partition("=")
            if not equals:
                raise Trouble(f"{option_name(question.key)} {text}: it says of which, like idle-up=38")
            replies[f"{question.key} {item}"] = reply
    return replies
