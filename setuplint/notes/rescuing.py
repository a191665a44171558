"""What the rescue does in each mode, and what it leaves to the sticks."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.formats.control_words import and_joined
from setuplint.notes.asking import Asker, Note, Open, ends_text
from setuplint.setup.model import Channel

RESCUE = "rescue"
STEERED = ("aileron", "elevator", "rudder", "collective")


def rescue_notes(ask: Asker) -> Iterator[Note]:
    setup = ask.setup
    if setup.intent.rescue is None:
        return
    for mode in [*setup.modes] or [""]:
        where = f"in mode {mode} the rescue" if mode else "the rescue"
        there = ("rescue called", "not hold called", f"mode is {mode}" if mode else "")
        try:
            if ask.never(*there):
                yield ask.note(RESCUE, f"{where} cannot be called with the hold off.")
                continue
            does = [*_power(ask, there), *_attitude(ask, there)]
            yield ask.note(RESCUE, f"{where} {and_joined(does)}. {_left(ask, there)}")
        except Open as why:
            yield ask.open_note(RESCUE, f"what {where} does", why)
    if setup.intent.hold is not None:
        try:
            sure = ask.never("rescue called", "hold called", "rotor driven")
            drives = "does not drive the rotor" if sure else "can drive the rotor all the same"
            yield ask.note(RESCUE, f"called in the hold, the rescue {drives}.")
        except Open as why:
            yield ask.open_note(RESCUE, "what the rescue does in the hold", why)


def _power(ask: Asker, there: tuple[str, ...]) -> Iterator[str]:
    for channel in ask.setup.channels.values():
        if channel.drives == "motor":
            low, high = ends = ask.ends(channel.name, *there)
            gives = f"gives {channel.name}" if low == high else f"lets {channel.name} give"
            yield f"{gives} {ends_text(ends, ask.motor)}"


def _attitude(ask: Asker, there: tuple[str, ...]) -> Iterator[str]:
    intent = ask.setup.intent
    if intent.level is not None:
        yield "levels the craft" if ask.never(*there, "not levelled") else "does not always level the craft"
    if intent.lift == "unit":
        yield "leaves the lift to the unit"
    elif intent.lift is not None:
        yield "lifts it" if ask.never(*there, "not lifted") else "does not always lift it"


def _left(ask: Asker, there: tuple[str, ...]) -> str:
    """Which sticks go on moving their channels."""
    found: dict[str, list[str]] = {"always": [], "never": [], "sometimes": []}
    for channel in ask.setup.channels.values():
        if channel.drives in STEERED:
            kinds = {
                stick: _following(ask, there, f"{channel.name} follows {stick}") for stick in _sticks(ask, channel)
            }
            for kind, named in found.items():
                sticks = [stick for stick, each in kinds.items() if each == kind]
                named += [f"{channel.name} ({', '.join(sticks)})"] if sticks else []
    texts = [
        f"To the sticks it leaves {and_joined(found['always'])}." if found["always"] else "",
        f"It takes {and_joined(found['never'])} from them." if found["never"] else "",
        f"In some states it leaves {and_joined(found['sometimes'])}, in others not." if found["sometimes"] else "",
    ]
    return " ".join(filter(None, texts)) or "No stick steers the craft by the file."


def _following(ask: Asker, there: tuple[str, ...], follows: str) -> str:
    if ask.never(*there, follows):
        return "never"
    return "always" if ask.never(*there, f"not {follows}") else "sometimes"


def _sticks(ask: Asker, channel: Channel) -> list[str]:
    """The sticks that a line of the channel reads."""
    return [name for name in channel.sticks if not ask.setup.sticks[name].knob]
