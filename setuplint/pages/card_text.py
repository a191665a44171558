"""A bench card in words: stages with boxes, each with rows of what is done and what must be read; and the runs of
findings in time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.bench import card_model
from setuplint.bench.box_marks import box_mark, mark_beside
from setuplint.bench.card_model import Card, CardStep, Reading
from setuplint.bench.since import CardSince
from setuplint.engine.answers import Timing
from setuplint.findings import Report
from setuplint.formats.numbers import decimal, json_number
from setuplint.formats.step_outputs import run_moments
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.named_tuple import NamedTuple
from setuplint.notes.asking import Note
from setuplint.pages.card_by_hand import measurements, observations, preparations
from setuplint.pages.card_power import careful, stage_texts
from setuplint.pages.card_words import CardWords
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.problems import capitalised


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
    since: str = ""

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
    since: CardSince | None = None,
    old: str = "",
) -> CardText:
    """The card in words. `values` are those of the file, `warning` is what lint has to say of it, `report` its findings, `notes`
    what is good to know. `since`: only the boxes that a change touches, from the file called `old`."""
    words = CardWords(card, values)
    first = max((step.number for step in card.steps), default=0) + 1
    runs = tuple(card_runs(report, words, first)) if report is not None else ()
    return CardText(
        card.setup.craft.name,
        file,
        day,
        fingerprint(card.setup),
        warning,
        (*(_since_guide(since, old) if since is not None else ()), *_guide(card, words)),
        tuple(_stages(card, words, runs)),
        words.coverage(),
        tuple(f"{words.item(each.item)}: {each.because}" for each in card.left),
        runs,
        careful(card.setup),
        tuple(notes),
        old if since is not None else "",
    )


def _stages(card: Card, words: CardWords, runs: Sequence[RunText]) -> list[StageText]:
    """The stages, with what lint found in time before the first that is not done on the bench, or with the motor."""
    stages = []
    for stage in card.stages:
        dead = any(move.kind == card_model.UNPOWERED for move in stage.steps[-1].back)
        dead |= stage.key == "gone" and any(
            row.kind in card_model.POWER_UP for step in stage.steps for row in step.rows
        )
        title, note = stage_texts(card.setup, stage.key, ends_dead=dead)
        turning = stage.key in ("motor", "hover")
        stages.append(StageText(stage.key, title, note, tuple(_box(words, step, turning) for step in stage.steps)))
    if runs:
        after = ("range", "motor", "hover")
        at = next((number for number, stage in enumerate(stages) if stage.key in after), len(stages))
        stages.insert(at, StageText("runs", *stage_texts(card.setup, "runs"), tuple(map(_run_box, runs))))
    return stages


def _since_guide(since: CardSince, old: str) -> Iterator[str]:
    """What the change touches, and what is left out."""
    parts = ", ".join(since.parts) if since.parts else "nothing that a transmitter holds"
    yield (
        f"Only the boxes that read otherwise than by {old}, or whose channels or controls are elsewhere, and what they need. "
        f"Changed in the file: {parts}."
    )
    if since.same:
        yield f"Left out, for they read the same by both: {number_ranges(since.same)}."
    if since.undoable:
        numbers = number_ranges(since.undoable)
        yield f"Boxes of the card before the change that cannot be done, for a control of theirs is gone: {numbers}."
    if since.unshown:
        yield f"{since.unshown} more boxes of the card before the change read otherwise now: do the whole card."


def number_ranges(numbers: Sequence[int]) -> str:
    """`2 to 6, 9`."""
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    return ", ".join(str(each[0]) if len(each) == 1 else f"{each[0]} to {each[-1]}" for each in found)


def _guide(card: Card, words: CardWords) -> Iterator[str]:
    if not card.steps:  # a change that touches none
        return
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
    mark = mark_beside([run.rule, run.message, [row.text for row in run.rows]])
    after = ("Tick it when this is gone.",)
    return Box(run.number, False, title, run.channels, rows, (f"{run.message}.",), after, mark=mark)


def _box(words: CardWords, step: CardStep, turning: bool) -> Box:
    channels = words.channels(step)
    rows = []
    for number, row in enumerate(step.rows):
        cells = tuple(words.cell(row.readings[name]) for name in channels)
        do = words.moves(row.moves, turning=turning) or "nothing is moved"
        rows.append(RowText(capitalised(do), cells, tuple(words.also(step, number)), row.driven))
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


class RunRow(NamedTuple):
    """What happens at a second, and what the channels then go to, in percent and in words. `danger`: it is there now."""

    at: Fraction
    do: str
    readings: Mapping[str, Fraction]
    cells: tuple[tuple[str, str, str], ...]
    danger: bool

    @property
    def text(self) -> str:
        return f"At {decimal(self.at)}{FIXED_SPACE}s: {self.do}"


class RunText(NamedTuple):
    number: int  # of its box
    rule: str
    signal: str
    message: str
    channels: tuple[str, ...]
    rows: tuple[RunRow, ...]


def card_runs(report: Report, words: CardWords, number: int) -> Iterator[RunText]:
    """The run of each finding that has one, numbered from there on."""
    for finding in report.findings:
        channels = sorted(finding.outputs, key=lambda name: name not in finding.motors)
        rows = []
        for moment in run_moments(words.setup, finding, report.values):
            assert finding.timing is not None
            put = {name: value for name in channels if (value := moment.seen.outputs[name]) is not None}
            cells = tuple(words.cell(Reading((put[name],) if name in put else ())) for name in channels)
            rows.append(RunRow(moment.at, moment.words, put, cells, _is_there(finding.timing, moment.at)))
        if rows:
            yield RunText(number, finding.rule, finding.signal, finding.message, tuple(channels), tuple(rows))
            number += 1


def _is_there(timing: Timing, at: Fraction) -> bool:
    return timing.since <= at and (timing.until is None or at < timing.until)


def run_values(run: RunText) -> dict[str, object]:
    """In JSON."""
    return {
        "number": run.number,
        "rule": run.rule,
        "signal": run.signal,
        "message": run.message,
        "rows": [
            {
                "at": json_number(row.at),
                "do": row.do,
                "danger": row.danger,
                "readings": {name: json_number(value) for name, value in row.readings.items()},
            }
            for row in run.rows
        ],
    }
