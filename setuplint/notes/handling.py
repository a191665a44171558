"""All notes on a setup, in the order in which a flight needs them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from setuplint.budget import OutOfBudget, Spent
from setuplint.dataclass import replace
from setuplint.notes import hearing, losing, rescuing, starting, stopping
from setuplint.notes.asking import Asker, Note
from setuplint.setup.model import Setup
from setuplint.setup.packs import of_pack, other_counts

TOPICS = {  # in order, with their headings
    starting.START: "After power-up",
    stopping.STOP: "What stops the motor",
    stopping.KNOCK: "A knock on a sprung switch",
    rescuing.RESCUE: "The rescue",
    losing.LINK: "The link gone",
    hearing.SUPPLY: "The receiver's supply",
    losing.SILENCE: "Telemetry silent",
    hearing.PACK: "The pack runs down",
    starting.PUPIL: "The pupil",
}
Make = Callable[[Asker], Iterator[Note]]
MAKERS: tuple[Make, ...] = (
    starting.start_notes,
    stopping.stop_notes,
    stopping.knock_notes,
    rescuing.rescue_notes,
    losing.link_notes,
    hearing.supply_notes,
    losing.silence_notes,
    hearing.pack_notes,
    starting.pupil_notes,
)


def handling_notes(setup: Setup, values: Mapping[str, object], spent: Spent | None = None) -> list[Note]:
    """The notes on a setup, with its battery; of each that another pack lets be otherwise that is said. `values` are the file's
    own, for the words for its controls. `spent` is a budget to keep to."""
    spent = spent or Spent()
    notes = _notes(setup, values, spent)
    for name in other_counts(setup, setup):
        known = {note.text for note in _notes(of_pack(setup, name), values, spent)}
        notes = [note if note.text in known else _otherwise(note, name) for note in notes]
    return notes


def _notes(setup: Setup, values: Mapping[str, object], spent: Spent) -> list[Note]:
    try:
        ask = Asker(setup, values, spent)
    except OutOfBudget as end:
        return [Note(starting.START, f"What is good to know of this craft: not decided ({end}).", decided=False)]
    return [note for make in MAKERS for note in make(ask)]


def _otherwise(note: Note, pack: str) -> Note:
    return replace(note, text=f"{note.text} With pack {pack} it is otherwise, or not decided.")
