"""The mode after power-up, and what a pupil can and cannot do."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.formats.control_words import and_joined
from setuplint.notes.asking import Asker, Note, Open, written
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Trainer

START, PUPIL = "start", "pupil"


def start_notes(ask: Asker) -> Iterator[Note]:
    setup = ask.setup
    if setup.modes:
        try:
            modes = [mode for mode in setup.modes if ask.can_be(f"mode is {mode}", at_power_up=True)]
            none = ask.can_be(*(f"not mode is {mode}" for mode in setup.modes), at_power_up=True)
            flown = [f"mode {mode}" for mode in modes] + (["no mode at all"] if none else [])
            each = "however the switches stand" if len(flown) == 1 else "as the switches stand"
            yield ask.note(START, f"after power-up it is in {' or '.join(flown)}, {each}.")
        except Open as why:
            yield ask.open_note(START, "which mode it is in after power-up", why)
    try:
        runs = ask.can_be("rotor driven", at_power_up=True)
        yield ask.note(START, f"at power-up the rotor {'can be' if runs else 'is never'} driven.")
    except Open as why:
        yield ask.open_note(START, "whether the rotor is driven at power-up", why)


def pupil_notes(ask: Asker) -> Iterator[Note]:
    trainer = ask.setup.trainer
    if trainer is None:
        return
    try:
        yield from _pupil(ask, trainer)
    except Open as why:
        yield ask.open_note(PUPIL, "what a pupil can do", why)


def _pupil(ask: Asker, trainer: Trainer) -> Iterator[Note]:
    lent = written(trainer.lent)
    if ask.never(lent):
        yield ask.note(PUPIL, "the pupil never has the craft.")
        return
    moved: list[str] = []
    kept: list[str] = []
    for channel in ask.setup.channels.values():
        sticks = [s for s in trainer.sticks if _reads(ask, channel.name, s)]
        mine = [stick for stick in sticks if ask.can_be(lent, f"{channel.name} follows {stick}")]
        (moved if mine else kept).append(f"{channel.name} ({' and '.join(mine)})" if mine else channel.name)
    while_lent, rest = formula_text(trainer.lent), f"; and not {and_joined(kept)}" if kept else ""
    can = f"the pupil moves {and_joined(moved)}" if moved else "the pupil moves nothing"
    yield ask.note(PUPIL, f"while {while_lent}, {can}{rest}.")
    if ask.setup.intent.hold is not None:
        sure = ask.never(lent, "hold called", "rotor driven")
        yield ask.note(
            PUPIL, f"the teacher's hold {'stops' if sure else 'does not always stop'} the rotor while the pupil flies."
        )
    if ask.setup.intent.rescue is not None:
        both = ask.can_be(lent, "rescue called")
        yield ask.note(PUPIL, f"the rescue {'can' if both else 'cannot'} be called while the pupil has the craft.")
    sprung = ask.never(lent, "sprung switches released")
    back = (
        "once every sprung switch is let go of, the teacher has"
        if sprung
        else "letting go of every switch does not give back"
    )
    yield ask.note(PUPIL, f"{back} the craft.")


def _reads(ask: Asker, channel: str, stick: str) -> bool:
    return any(term.source == stick for term in ask.setup.channels[channel].terms)
