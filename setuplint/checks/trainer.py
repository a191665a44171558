"""A pupil's sticks: whether the teacher has the craft back by letting go, and from where."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.book.asking import Asking
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f

RELEASED = f.Predicate("sprung switches released")
LENT = Place(("trainer", "lent"))


def trainer_stays(ask: Asking) -> Iterator[Finding]:
    """The sticks are lent with every sprung switch released."""
    if ask.setup.trainer is None:
        return
    lent = ask.setup.trainer.lent
    case = ask.find(f.both(lent, RELEASED), "trainer")
    if case is not None:
        words = f"with every sprung switch let go the pupil has {lent_words(ask)}: the teacher must act to have the craft back"
        yield ask.finding("trainer", words, LENT, case)


def trainer_at_start(ask: Asking) -> Iterator[Finding]:
    """The sticks are lent at power-up, sprung switches released."""
    ask = ask.as_enforced()
    if ask.setup.trainer is None:
        return
    case = ask.find(f.both(ask.setup.trainer.lent, RELEASED), "trainer", at_power_up=True)
    if case is not None:
        related = [Place(("start", "requires"), "does not ask for it")] if ask.setup.start is not None else []
        words = f"switched on like this, the pupil has {lent_words(ask)} at once"
        yield ask.finding("trainer", words, LENT, case, related=related)


def trainer_two_moves(ask: Asking) -> Iterator[Finding]:
    """A state with the sticks lent from which no one movement of a switch ends it."""
    if ask.setup.trainer is None:
        return
    lent = ask.setup.trainer.lent
    if not ask.possible(lent, "trainer"):
        return
    case = ask.noted(ask.decider.find_no_movement(lent, f.Not(lent)), "trainer")
    if case is not None:
        words = f"from the state shown no one switch takes {lent_words(ask)} back from the pupil"
        yield ask.finding("trainer", words, LENT, case)


def lent_words(ask: Asking) -> str:
    """The sticks that are lent."""
    assert ask.setup.trainer is not None
    *first, last = ask.setup.trainer.sticks
    return f"the {', '.join(first)} and {last} sticks" if first else f"the {last} stick"
