"""The options of `setuplint new`: what the pilot knows. What is not given is left out of the file, never guessed."""

from __future__ import annotations

import argparse
import re

from setuplint.setup.formulas import RESERVED

NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", re.ASCII)
TAKEN = ("throttle", "aileron", "elevator", "rudder", "pack", "link", "pack-low")
CHANNELS = ("motor", "pitch", "roll", "nose", "tail", "attitude")


def number(low: float, high: float) -> type:
    """A kind of argument: a decimal between two limits, kept as it is written."""

    def read(text: str) -> str:
        if not re.fullmatch(r"-?[0-9]{1,7}(\.[0-9]{1,4})?", text, re.ASCII) or not low <= float(text) <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not a number from {low:g} to {high:g}")
        return text

    return read  # type: ignore[return-value]


def whole(text: str) -> str:
    if not re.fullmatch(r"[0-9]{1,2}", text, re.ASCII) or not 1 <= int(text) <= 24:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 24")
    return str(int(text))


def name(text: str) -> str:
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


def place(text: str) -> tuple[str, int]:
    channel, _, written = text.partition("=")
    if channel not in CHANNELS or not written.isascii() or not written.isdigit() or not 1 <= int(written[:3]) <= 32:
        raise argparse.ArgumentTypeError(f"{text!r} is not like motor=2 (of {', '.join(CHANNELS)}; 1 to 32)")
    return channel, int(written)


def add(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE", help="the file to write; it must not exist yet; - prints it")
    command.add_argument(
        "--ask", action="store_true", help="ask for what is not given (as it is on a terminal, without --rotor)"
    )
    craft = command.add_argument_group("the craft")
    craft.add_argument("--name", type=label, help="what reports call it")
    craft.add_argument("--kind", choices=("helicopter", "multirotor"))
    craft.add_argument("--rotor", choices=("collective", "fixed"), help="what carries it")
    craft.add_argument("--radio", type=label, help="a name for the transmitter, the same in each of its setups")
    craft.add_argument("--soft-start", choices=("yes", "no"), help="full speed takes 2 s or more from a stop")
    craft.add_argument("--arms-when-stopped", choices=("yes", "no"), help="it arms only with the throttle at a stop")
    measured = command.add_argument_group(
        "measured: leave out what you have not tried on this craft (percent, -100 to 100)"
    )
    percent = number(-150, 150)
    measured.add_argument("--motor-off", type=percent, metavar="N", help="at or below this the motor is stopped")
    measured.add_argument("--hover-throttle", type=percent, metavar="N", help="the motor's output in a hover")
    measured.add_argument("--hover-collective", type=percent, metavar="N", help="the collective's output in a hover")
    measured.add_argument("--governed-above", type=percent, metavar="N", help="from here on a governor holds the speed")
    measured.add_argument("--throttle-trim", type=number(0, 100), metavar="N", help="what the throttle trim can add")
    pack = command.add_argument_group("the pack and telemetry")
    pack.add_argument("--chemistry", choices=("lipo", "lihv", "li-ion", "life"))
    pack.add_argument("--cells", type=whole, metavar="N")
    pack.add_argument("--capacity-mah", type=number(1, 1_000_000), metavar="N")
    pack.add_argument("--hover-current-a", type=number(0.1, 1000), metavar="N")
    pack.add_argument(
        "--resistance-mohm", type=number(0, 10_000), metavar="N", help="the whole pack's, warm: for the alarm's reserve"
    )
    pack.add_argument("--pack-sensor", action="store_true", help="the pack's voltage is sent back")
    pack.add_argument("--link-sensor", action="store_true", help="the link's quality is sent back")
    switches = command.add_argument_group("the switches")
    switches.add_argument("--hold-switch", type=name, default="hold", metavar="NAME", help="two positions (hold)")
    switches.add_argument("--rescue-switch", type=name, default="save", metavar="NAME", help="it springs back (save)")
    switches.add_argument(
        "--flight-switch", type=name, default="flight", metavar="NAME", help="with --idle-up (flight)"
    )
    switches.add_argument("--hold-place", type=label, metavar="TEXT", help="where it is: left shoulder")
    switches.add_argument("--rescue-place", type=label, metavar="TEXT")
    switches.add_argument("--flight-place", type=label, metavar="TEXT")
    switches.add_argument("--without-rescue", action="store_true", help="there is no switch that springs back for it")
    does = command.add_argument_group("what it does (percent)")
    does.add_argument("--idle-up", type=percent, metavar="N", help="collective: adds an idle-up mode, the motor at N")
    does.add_argument(
        "--soften",
        type=number(0.05, 3),
        metavar="SLOPE",
        help="the curves' slope at the hover, a straight line's is 1 (0.6)",
    )
    does.add_argument("--level", type=percent, metavar="N", help="the output that tells the stabiliser to level")
    does.add_argument("--rescue-power", type=percent, metavar="N", help="the motor in a rescue")
    does.add_argument("--lift", choices=("unit",), help="the stabiliser moves the collective itself in a rescue")
    does.add_argument(
        "--rescue-pitch", type=percent, metavar="N", help="the collective in a rescue, if the unit does not"
    )
    does.add_argument(
        "--failsafe",
        choices=("stop", "unit"),
        help="link gone: stop the motor (as it is), or the stabiliser takes over",
    )
    does.add_argument("--start-check", choices=("yes", "no"), help="start only with hold on and the stick down (yes)")
    does.add_argument(
        "--number", type=place, action="append", default=[], metavar="CHANNEL=N", help="the channel's place: motor=2"
    )
