"""The options of `setuplint new`: what the pilot knows. What is not given is left out of the file, never guessed."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from typing import Any

from setuplint.cli.options import Option, option
from setuplint.setup.formulas import RESERVED

NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", re.ASCII)
TAKEN = ("throttle", "aileron", "elevator", "rudder", "pack", "link", "pack-low")
CHANNELS = ("motor", "pitch", "roll", "nose", "tail", "attitude")
YES_NO = ("yes", "no")


def decimal_between(low: float, high: float) -> Callable[[str], str]:
    """A kind of argument: a decimal between two limits, kept as it is written."""

    def written(text: str) -> str:
        if not re.fullmatch(r"-?[0-9]{1,7}(\.[0-9]{1,4})?", text, re.ASCII) or not low <= float(text) <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not a number from {low:g} to {high:g}")
        return text

    return written


def cell_count(text: str) -> str:
    if not re.fullmatch(r"[0-9]{1,2}", text, re.ASCII) or not 1 <= int(text) <= 24:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 24")
    return str(int(text))


def switch_name(text: str) -> str:
    if not NAME.fullmatch(text):
        raise argparse.ArgumentTypeError(f"{text!r} is not a name: lower-case words joined by -")
    if text in RESERVED or text in TAKEN:
        raise argparse.ArgumentTypeError(f"{text!r} is a word of the format, or in use for something else")
    return text


def label(text: str) -> str:
    """What is printed of a craft, a transmitter or a place."""
    if not 1 <= len(text) <= 60 or not text.isprintable():
        raise argparse.ArgumentTypeError("1 to 60 characters on one line are needed")
    return text


def channel_number(text: str) -> tuple[str, int]:
    channel, _, written = text.partition("=")
    if channel not in CHANNELS or not written.isascii() or not written.isdigit() or not 1 <= int(written[:3]) <= 32:
        raise argparse.ArgumentTypeError(f"{text!r} is not like motor=2 (of {', '.join(CHANNELS)}; 1 to 32)")
    return channel, int(written)


PERCENT = decimal_between(-150, 150)


def _optional(heading: str, *options: tuple[str, dict[str, Any]]) -> tuple[Option, ...]:
    """Options that are not there where they are not given: what is not known is no value."""
    return tuple(option(name, heading=heading, default=argparse.SUPPRESS, **settings) for name, settings in options)


def _choice(*words: str, **settings: Any) -> dict[str, Any]:
    return {"choices": words, **settings}


def _number(kind: Callable[[str], Any], help: str | None = None) -> dict[str, Any]:
    return {"type": kind, "metavar": "N", "help": help}


def _switch(help: str) -> dict[str, Any]:
    return {"type": switch_name, "metavar": "NAME", "help": help}


def _text(help: str | None = None, **settings: Any) -> dict[str, Any]:
    return {"type": label, "help": help, **settings}


def _flag(help: str) -> dict[str, Any]:
    return {"action": "store_true", "help": help}


OPTIONS = (
    option("file", metavar="FILE", help="the file to write; it must not exist yet; - prints it"),
    option("--ask", action="store_true", help="ask for what is not given (as it is on a terminal, without --rotor)"),
    *_optional(
        "the craft",
        ("--name", _text("what reports call it")),
        ("--kind", _choice("helicopter", "multirotor")),
        ("--rotor", _choice("collective", "fixed", help="what carries it")),
        ("--radio", _text("a name for the transmitter, the same in each of its setups")),
        ("--soft-start", _choice(*YES_NO, help="full speed takes 2 s or more from a stop")),
        ("--arms-when-stopped", _choice(*YES_NO, help="it arms only with the throttle at a stop")),
    ),
    *_optional(
        "measured: leave out what you have not tried on this craft (percent, -100 to 100)",
        ("--motor-off", _number(PERCENT, "at or below this the motor is stopped")),
        ("--hover-throttle", _number(PERCENT, "the motor's output in a hover")),
        ("--hover-collective", _number(PERCENT, "the collective's output in a hover")),
        ("--governed-above", _number(PERCENT, "from here on a governor holds the speed")),
        ("--throttle-trim", _number(decimal_between(0, 100), "what the throttle trim can add")),
    ),
    *_optional(
        "the pack and telemetry",
        ("--chemistry", _choice("lipo", "lihv", "li-ion", "life")),
        ("--cells", _number(cell_count)),
        ("--capacity-mah", _number(decimal_between(1, 1_000_000))),
        ("--hover-current-a", _number(decimal_between(0.1, 1000))),
        ("--resistance-mohm", _number(decimal_between(0, 10_000), "the whole pack's, warm: for the alarm's reserve")),
        ("--pack-sensor", _flag("the pack's voltage is sent back")),
        ("--link-sensor", _flag("the link's quality is sent back")),
    ),
    *_optional(
        "the switches",
        ("--hold-switch", _switch("two positions (hold)")),
        ("--rescue-switch", _switch("it springs back (save)")),
        ("--flight-switch", _switch("with --idle-up (flight)")),
        ("--hold-place", _text("where it is: left shoulder", metavar="TEXT")),
        ("--rescue-place", _text(metavar="TEXT")),
        ("--flight-place", _text(metavar="TEXT")),
        ("--without-rescue", _flag("there is no switch that springs back for it")),
    ),
    *_optional(
        "what it does (percent)",
        ("--idle-up", _number(PERCENT, "collective: adds an idle-up mode, the motor at N")),
        (
            "--soften",
            {
                "type": decimal_between(0.05, 3),
                "metavar": "SLOPE",
                "help": "the curves' slope at the hover, a straight line's is 1 (0.6)",
            },
        ),
        ("--level", _number(PERCENT, "the output that tells the stabiliser to level")),
        ("--rescue-power", _number(PERCENT, "the motor in a rescue")),
        ("--lift", _choice("unit", help="the stabiliser moves the collective itself in a rescue")),
        ("--rescue-pitch", _number(PERCENT, "the collective in a rescue, if the unit does not")),
        (
            "--failsafe",
            _choice("stop", "unit", help="link gone: stop the motor (as it is), or the stabiliser takes over"),
        ),
        ("--start-check", _choice(*YES_NO, help="start only with hold on and the stick down (yes)")),
        (
            "--number",
            {
                "type": channel_number,
                "action": "append",
                "metavar": "CHANNEL=N",
                "help": "the channel's place: motor=2",
            },
        ),
    ),
)

BY_NAME = {each.names[0].removeprefix("--").replace("-", "_"): each for each in OPTIONS}
