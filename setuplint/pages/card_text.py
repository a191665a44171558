"""A bench card in words: stages with boxes, each with rows of what is done and what must be read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from setuplint.bench.box_marks import box_mark, mark_of
from setuplint.bench.card_model import Card, CardStep, Reading
from setuplint.findings import Report
from setuplint.notes.asking import Note
from setuplint.pages.card_by_hand import measurements, observations, preparations
from setuplint.pages.card_power import careful, stage_texts
from setuplint.pages.card_runs import RunText, card_runs
from setuplint.pages.card_words import CardWords
from setuplint.setup.fingerprint import fingerprint


class RowText(NamedTuple):
    """What the hand does, what each channel must then read, and what else is seen or heard. A reading stands on both scales
    and as a pulse."""

    do: str
    cells: tuple[tuple[str, str, str], ...]
    also: tuple[str, ...] = ()
    danger: bool = False


class Box(NamedTuple):
    """One thing to tick. `blanks` are places to write a number, each with what it is, what the file says, and what a record
    calls it; the record knows the box by its `mark`."""

    number: int
    again: bool
    title: str
    channels: tuple[str, ...] = ()
    rows: tuple[RowText, ...] = ()
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    then: str = ""
    shows: str = ""
    blanks: tuple[tuple[str, str, str], ...] = ()
    mark: str = ""


class StageText(NamedTuple):
    key: str
    title: str
    note: str
    boxes: tuple[Box, ...]


class CardText(NamedTuple):
    """All of a card in words. `warning` is what lint found, `left` what the card cannot show, `runs` what
    lint found in time."""

    craft: str
    file: str
    day: str
    fingerprint: str
    warning: str
    guide: tuple[str, ...]
    stages: tuple[StageText, ...]
    covers: str
    left: tuple[str, ...]
    runs: tuple[RunText, ...] = ()
    careful: str = ""
    notes: tuple[Note, ...] = ()

    @property
    def boxes(self) -> int:
        return sum(len(stage.boxes) for stage in self.stages)


def card_text(
    card: Card,
    values: Mapping[str, object],
    file: str,
    day: str,
    warning: str = "",
    report: Report | None = None,
    notes: Sequence[Note] = (),
) -> CardText:
    """The card in words. `values` are those of the file, `warning` is what lint has to say of it, `report` its findings, `notes`
    what is good to know."""
    words = CardWords(card, values)
    stages = []
    for stage in card.stages:
        title, note = stage_texts(card.setup, stage.key)
        turning = stage.key in ("motor", "hover")
        stages.append(StageText(stage.key, title, note, tuple(_box(words, step, turning) for step in stage.steps)))
    runs = tuple(card_runs(report, words, len(card.steps) + 1)) if report is not None else ()
    if runs:
        at = next(number for number, stage in enumerate(stages) if stage.key == "range")
        stages.insert(at, StageText("runs", *stage_texts(card.setup, "runs"), tuple(map(_run_box, runs))))
    return CardText(
        card.setup.craft.name,
        file,
        day,
        fingerprint(card.setup),
        warning,
        tuple(_guide(card, words)),
        tuple(stages),
        words.coverage(),
        tuple(f"{words.item(each.item)}: {each.because}" for each in card.left),
        runs,
        careful(card.setup),
        tuple(notes),
    )


def _guide(card: Card, words: CardWords) -> Iterator[str]:
    base = next((step.number for step in card.steps if step.key == "receiver"), 0)
    yield f"Every step starts and ends with {words.home}."
    if not card.held:
        yield "The file has no hold that can be on at the start: where a hold would stop the motor, nothing does."
    yield (
        "Read the outputs where the transmitter shows its channels, or at the receiver. Each stands here on the scale from "
        "-100 to +100, on that from 0 to 100, and as a pulse, rounded to whole numbers: one point more or less is as good. "
        f"A channel that a step does not name reads as in box {base}."
    )
    marked = [str(step.number) for step in card.steps if step.again]
    if marked:
        yield f"★ marks the {len(marked)} to repeat after any change: {', '.join(marked)}."


def _run_box(run: RunText) -> Box:
    rows = tuple(RowText(row.text, row.cells, (), row.danger) for row in run.rows)
    title = f"{run.signal.capitalize()} in time: {run.rule}"
    mark = mark_of([run.rule, run.message, [row.text for row in run.rows]])
    after = ("Tick it when this is gone.",)
    return Box(run.number, False, title, run.channels, rows, (f"{run.message}.",), after, mark=mark)


def _box(words: CardWords, step: CardStep, turning: bool) -> Box:
    channels = words.channels(step)
    rows = []
    for number, row in enumerate(step.rows):
        cells = tuple(words.cell(row.readings[name]) for name in channels)
        do = words.moves(row.moves, turning=turning) or "nothing is moved"
        rows.append(RowText(do[:1].upper() + do[1:], cells, tuple(words.also(step, number)), row.driven))
    return Box(
        step.number,
        step.again,
        words.title(step),
        tuple(channels),
        tuple(rows),
        (*preparations(words, step), *_before(words, step)),
        (*_least_outputs(words, step), *observations(words, step)),
        words.moves(step.back, back=True, turning=turning),
        words.items(step.shows),
        tuple(measurements(words, step)),
        box_mark(step),
    )


def _before(words: CardWords, step: CardStep) -> Iterator[str]:
    """How controls stand when the step begins."""
    still = words.standing(step)
    if still:
        yield f"Still so from the step before: {still}."
    if step.kept:
        yield f"On already: {', '.join(f'{name} (box {words.box_that_set(step, name)} says how)' for name in step.kept)}."


def _least_outputs(words: CardWords, step: CardStep) -> Iterator[str]:
    for name, value in step.least.items():
        first, second, third = words.cell(Reading((value,)))
        yield f"Whatever the stick and the other controls do, {name} never reads less than {first} ({second} of 100, {third})."
