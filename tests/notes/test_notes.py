"""Handling notes: every question behind them asked again by brute force, and the sentences that come of the answers."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

import setuplint
from setuplint.engine.answers import FOUND, IMPOSSIBLE
from setuplint.notes import asking
from setuplint.notes.asking import MORE, Note
from setuplint.plain import settings
from setuplint.plain.evaluate import evaluate
from tests.bench.test_card import HAZARDS, SAFE, TEXT
from tests.notes.against import disagreements
from tests.oracle.setups import random_setup

LONG = ("goshawk", "lapwing", "plover", "idle-up-at-power-up", "low-stick-runs-motor", "mode-gap")
EXAMPLES = [path for path in (*SAFE, *HAZARDS[::4]) if path.stem not in LONG]


def texts_of(notes: list[Note], topic: str) -> list[str]:
    return [note.text.replace("\u00a0", " ") for note in notes if note.topic == topic]


def notes_of(text: str) -> list[Note]:
    return setuplint.load_text(text).notes()


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_brute_force_gives_every_answer(path: Path) -> None:
    notes = setuplint.load(path).notes()
    said = dict(disagreements(path.read_text(encoding="utf-8"), notes))
    assert {basis: words for basis, words in said.items() if words not in ("asked", "too big")} == {}
    counts = Counter(said.values())
    assert counts["asked"] >= 9 * counts["too big"]
    assert all(note.decided for note in notes)


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(first, first + 8) for first in range(2000, 2032, 8)], ids=str)
def test_and_on_random_setups(seeds: range) -> None:
    for seed in seeds:
        text = random_setup(seed)
        notes = notes_of(text)
        said = dict(disagreements(text, notes))
        assert {basis: words for basis, words in said.items() if words not in ("asked", "too big")} == {}, seed


def test_a_wrong_answer_is_noticed() -> None:
    notes = notes_of(TEXT)
    for note in notes:
        for basis in note.basis:
            if basis.channel:
                wrong = replace(basis, greatest=(basis.greatest or Fraction(0)) + 1)
            else:
                wrong = replace(basis, verdict=FOUND if basis.verdict == IMPOSSIBLE else IMPOSSIBLE)
            ((_, said),) = disagreements(TEXT, [Note("stop", "", basis=(wrong,))])
            assert said != "asked"


# -- the sentences


def test_what_the_reference_says() -> None:
    """Worked out by hand from the file."""
    notes = notes_of(TEXT)
    assert texts_of(notes, "start")[0] == "After power-up it is in mode normal, however the switches stand."
    assert texts_of(notes, "stop") == [
        "Put hold on: the motor stops, from every state, at once.",
        "In mode normal, the hold off, the throttle stick at the bottom stops the rotor.",
        "In mode idle-up, the hold off, the throttle stick at the bottom does not stop the rotor: motor at +45 % (72.5 of 100, "
        "1725 µs) or more.",
    ]
    assert texts_of(notes, "knock") == [
        "A knock on save drives the rotor of a craft that stands with the stick at the bottom and the hold off: motor goes to "
        "+55 % (77.5 of 100, 1775 µs) at most; with the hold on it does not. Hold on before a hand or a strap comes near."
    ]
    assert texts_of(notes, "rescue")[0] == (
        "In mode normal the rescue gives motor +55 % (77.5 of 100, 1775 µs), levels the craft and leaves the lift to the unit. "
        "To the sticks it leaves pitch (throttle) and roll (aileron)."
    )
    assert texts_of(notes, "pack") == [
        "Whenever pack has read under 21.6 V (3.6 V a cell) for 1.5 s, “land now”, every 5 s is heard, and not before."
    ]


LOW_RESCUE = 'value = 55\nwhen = "save is pulled"\npriority = 50'
HIGH_RESCUE = LOW_RESCUE.replace("50", "150")


@pytest.mark.quick(4)
@pytest.mark.parametrize(
    ("old", "new", "topic", "words"),
    [
        (LOW_RESCUE, HIGH_RESCUE, "knock", "even with the hold on"),
        (LOW_RESCUE, HIGH_RESCUE, "stop", "There is no switch"),
        ("value = -100\nwhen", "value = -90\nwhen", "stop", "There is no switch"),
        ("motor = -100  ", "motor = -60", "link", "the rotor is driven on"),
        ("motor = -100  ", 'motor = "keep"', "link", "which can be +100 %"),
        ("attitude = 100\n\n[timers", "attitude = -100\n\n[timers", "link", "does not level"),
        ('when = "pack-low"', 'when = "pack-low and hold is off"', "pack", "is heard while the craft flies"),
        ('voice = "land now"             #', '# voice = "land now"   #', "pack", "No alarm compares"),
        ("hold is on and flight is normal and throttle < -95", "hold is on", "start", "mode normal or mode idle-up"),
        ("motor-off = -95", "# motor-off = -95", "knock", "drives the rotor"),
    ],
)  # fmt: skip
def test_another_setup_has_other_sentences(old: str, new: str, topic: str, words: str) -> None:
    assert old in TEXT
    assert not any(words in text for text in texts_of(notes_of(TEXT), topic)) or "motor-off" in old
    assert any(words in text for text in texts_of(notes_of(TEXT.replace(old, new, 1)), topic))


def test_an_engine_a_pupil_and_the_receivers_supply() -> None:
    bittern, kestrel = (setuplint.load(p).notes() for stem in ("bittern", "kestrel") for p in SAFE if p.stem == stem)
    assert texts_of(bittern, "stop")[:3] == [
        "Put hold on: the rotor is let go of, from every state, at once.",
        "Put cut on: the rotor is let go of, from every state, at once.",
        "Put cut on: the engine stops, from every state, at once.",
    ]
    assert texts_of(bittern, "supply") == [
        "Whenever receiver reads under 6.6 V, “receiver supply”, every 4 s is heard, and not before."
    ]
    assert texts_of(kestrel, "pupil") == [
        "While lend is pulled, the pupil moves roll (aileron) and nose (elevator); and not motor, tail, tail-gain, pitch and "
        "attitude.",
        "The teacher's hold stops the rotor while the pupil flies.",
        "The rescue can be called while the pupil has the craft.",
        "Once every sprung switch is let go of, the teacher has the craft.",
    ]


@pytest.mark.parametrize("path", [SAFE[0], SAFE[3], HAZARDS[8]], ids=lambda path: path.stem)
def test_what_hangs_on_no_telemetry_stays_as_it_is(path: Path) -> None:
    setup = setuplint.load(path)
    assert any("No output hangs on telemetry" in text for text in texts_of(setup.notes(), "silence"))
    model, chance = setup.model, random.Random(11)
    for _ in range(60):
        given = {s.name: chance.choice(s.positions) for s in model.switches.values()}
        sticks = {name: Fraction(chance.randint(-100, 100)) for name in model.sticks}
        outputs = []
        for lost in (False, True):
            readings = dict.fromkeys(model.sensors, "lost") if lost else {}
            state = settings.first(model, {**given, **sticks, **readings}, heard=True)
            outputs.append(evaluate(model, state).outputs)
        assert outputs[0] == outputs[1]


def test_a_silence_that_nothing_breaks_is_no_comfort() -> None:
    text = TEXT.replace(" or link is lost", "").replace('"pack is lost"', '"pack < 20"')
    said = texts_of(notes_of(text), "silence")
    assert said[0] == "When all telemetry falls silent, nothing is sure to be heard."


def test_what_another_pack_lets_be_otherwise_is_said() -> None:
    """With twelve cells the rescue comes by itself above 30 V, which six never show: the hold then no longer stops the motor."""
    override = '[overrides.high]\nchannel = "motor"\nvalue = 50\nwhen = "pack > 30"\npriority = 200\n'
    packs = "[packs.twelve]\ncells = 12\n"
    six, both = (texts_of(notes_of(TEXT + override + more), "stop") for more in ("", packs))
    assert six[0] == "Put hold on: the motor stops, from every state, at once."
    assert both[0] == f"{six[0]} With pack twelve it is otherwise, or not decided."


def test_notes_end_within_a_count_and_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asking, "MOST_QUESTIONS", 5)
    notes = notes_of(TEXT)
    assert sum(len(note.basis) for note in notes) <= 5
    assert any(MORE in note.text and not note.decided for note in notes)


def test_a_question_that_is_too_long_is_said() -> None:
    sensors = "".join(f'[sensors.a-sensor-with-a-long-name-{n}]\nreads = "temperature"\n' for n in range(120))
    (silent,) = texts_of(notes_of(TEXT + sensors), "silence")[:1]
    assert silent.endswith("not decided (that takes more words than a question may have).")
