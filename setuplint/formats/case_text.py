"""A witness as something to do on the bench: which controls to move, and what each channel then gives."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise, zip_longest

from setuplint.engine.answers import Timing
from setuplint.findings import LINK_GONE, Finding, Value
from setuplint.formats.control_words import ControlWords, and_joined
from setuplint.formats.numbers import Number, decimal, motor_output, of_hundred, percent
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.named_tuple import NamedTuple
from setuplint.setup.problems import capitalised

Moves = Mapping[str, Value]
LONG_ENOUGH = Fraction(10)  # seconds: most ramps are over
DECIMALS = 12  # of a place of a stick: no witness has more
PLAIN_PATH = set(string.ascii_letters + string.digits + "_-./")  # what every shell takes as it stands
MOVEMENT = re.compile(r"then ([a-z0-9-]+) to ([a-z0-9-]+)")
SMOOTHED = re.compile(r"([a-z0-9-]+) is smoothed as ([a-z0-9-]+)")


class CaseStep(NamedTuple):
    """What to do, and what the channels in question then give; empty where that is not known."""

    move: str
    gives: tuple[str, ...]

    @property
    def text(self) -> str:
        return f"{self.move}: {', '.join(self.gives)}" if self.gives else self.move


def case_sentence(finding: Finding, values: Mapping[str, object]) -> str:
    """`put hold on, pull save: the motor channel gives +55 % (77.5 of 100, 1775 µs).` Empty where the finding has no
    witness. Where its way from power-up matters, it counts the steps, which are listed below it."""
    if not (finding.witness or finding.steps or finding.outputs):
        return ""
    controls = ControlWords(values, finding.pack)
    given = ", ".join(_output_words(finding, values))
    movement = ", ".join(_hand_moves(last_movement(finding), controls)) or last_deed(finding)
    if finding.steps:
        count = len(finding.steps) + bool(movement)
        text = "after this step" if count == 1 else f"after these {count} steps from power-up"
        text += f", {given}" if given else ""
        text += f", {spell_words(finding.timing)}" if finding.timing is not None else ""
    else:
        text = standing_words(finding.witness, controls) + (f", then {movement}" if movement else "")
        text += f": {given}" if given else ""
    text += "."
    if finding.then and not movement:
        text += f" {plain(capitalised(finding.then))}".rstrip(".") + "."
    if finding.assumed:
        text += f" Taking it that {'; '.join(map(plain, finding.assumed))}."
    return text


def last_movement(finding: Finding) -> list[Moves]:
    """The movement that a finding about one ends with, alone in a list; its outputs are those after it."""
    match = MOVEMENT.fullmatch(finding.then)
    return [{match[1]: match[2]}] if match else []


def assumed_smoothing(finding: Finding) -> dict[str, str]:
    """As what its case takes curves of unknown smoothing, where it hangs on that."""
    found = (SMOOTHED.fullmatch(each) for each in finding.assumed)
    return {each[1]: each[2] for each in found if each is not None}


def last_deed(finding: Finding) -> str:
    """What a finding ends with that moves no control, where its outputs are those after it."""
    return LINK_GONE.removeprefix("then ") if finding.then == LINK_GONE else ""


def _hand_moves(steps: list[Moves], controls: ControlWords) -> list[str]:
    return [controls.move(*item) for step in steps for item in step.items()]


def standing_words(witness: Moves, controls: ControlWords) -> str:
    """A state of the controls: which are moved from rest, and how the others that matter stand."""
    moves = [controls.move(*item) for item in witness.items() if controls.moved(*item)]
    kept = [controls.kept(*item) for item in witness.items() if not controls.moved(*item)]
    if not moves:
        return f"with {and_joined(kept)}, and all else at rest" if kept else "with everything at rest"
    return ", ".join([f"with {and_joined(kept)}", *moves] if kept else moves)


def move_words(step: Moves, controls: ControlWords, *, first: bool) -> str:
    """What is moved in one step. The first is power-up, before the receiver is on."""
    if first:
        kept = [controls.kept(*item) for item in step.items() if item[1] != "unheard"]
        return f"switch on with {and_joined(kept)}" if kept else "switch on with everything at rest"
    hand = [controls.move(*item) for item in step.items() if not controls.is_sensor(item[0])]
    read = [controls.kept(*item) for item in step.items() if controls.is_sensor(item[0]) and item[1] != "unheard"]
    read += ["the receiver still off"] if "unheard" in step.values() else []
    return ", ".join([*hand, *([f"with {and_joined(read)}"] if read else [])]) or "wait"


def step_words(steps: Sequence[Moves], controls: ControlWords, at: Sequence[Fraction]) -> list[str]:
    """What is moved in each step from power-up on; how long after the one before, where `at` says at which second each begins."""
    done = [move_words(step, controls, first=number == 0) for number, step in enumerate(steps)]
    gaps = [f"{second_words(later - before)} later: " for before, later in pairwise(at)]
    return [*done[:1], *(gap + words for gap, words in zip_longest(gaps, done[1:], fillvalue=""))]


def spell_words(timing: Timing) -> str:
    """For how long it is so, after the last of the steps."""
    start = timing.since - timing.at[-1]
    end = None if timing.until is None else timing.until - timing.at[-1]
    if end is None:
        return f"from {second_words(start)} after the last one on" if start else "from the last one on"
    return (
        f"from {second_words(start)} to {second_words(end)} after the last one"
        if start
        else f"for {second_words(end)} from the last one on"
    )


def moment_words(timing: Timing) -> str:
    """When it is so, said with the last of the steps."""
    start = timing.since - timing.at[-1]
    if timing.until is None:
        return f", and after {second_words(start)}" if start else ""
    end = second_words(timing.until - timing.at[-1])
    return f", and {second_words(start)} to {end} later" if start else f", and within {end}"


def second_words(seconds: Number) -> str:
    return f"{decimal(seconds)}{FIXED_SPACE}s"


def trace_command(finding: Finding, file: str) -> str:
    """The command that shows a finding in time: each step at the end of its wait, the last in the middle of the spell; a final
    movement comes there. `trace` knows the battery's voltages alone."""
    timing = finding.timing
    if timing is None or finding.pack or not all(map(is_typeable, finding.steps[:1])) or set(file) - PLAIN_PATH:
        return ""
    lasts = LONG_ENOUGH if timing.until is None else min(LONG_ENOUGH, timing.until - timing.since)
    middle = timing.since + lasts / 2
    ends = [*timing.at[1:], Fraction(round(middle * 100), 100)]
    parts = []
    steps, starts = [*finding.steps, *last_movement(finding)], [*timing.at]
    if len(steps) > len(starts):
        starts.append(ends[-1])
        ends.append(ends[-1] + LONG_ENOUGH / 2)
    for step, start, end in zip(steps, starts, ends, strict=True):
        words = [
            f"{name}={where if isinstance(where, str) else decimal(where, DECIMALS)}" for name, where in step.items()
        ]
        part = ",".join([*words, f"wait={decimal(end - start)}"])
        parts.append(f'"{part}"' if set(part) & set(" ()") else part)  # of a trim, or a pupil's stick
    return f"setuplint trace {file} --set {' --then '.join(parts)}"


def is_typeable(step: Moves) -> bool:
    """Whether the first step can be given on the command line: the receiver is off by itself at power-up."""
    return all(where != "unheard" for where in step.values())


def _output_words(finding: Finding, values: Mapping[str, object]) -> Iterator[str]:
    for name in sorted(finding.outputs, key=lambda name: name not in finding.motors):
        yield output_words(name, finding.outputs[name], values, is_motor=name in finding.motors)


def output_words(name: str, output: Number, values: Mapping[str, object], *, is_motor: bool) -> str:
    number = motor_output(values, output) if is_motor else percent(output)
    return f"the {plain(name)} channel gives {number}"


def case_steps(
    finding: Finding, values: Mapping[str, object], outputs: Sequence[Mapping[str, Number]]
) -> list[CaseStep]:
    """The steps from power-up, each with the motor's output after it, as far as `outputs` has it. Where no motor is in
    question, the outputs of the finding's other channels. A final movement is the last step."""
    controls = ControlWords(values, finding.pack)
    names = sorted(finding.motors & finding.outputs.keys()) or list(finding.outputs)
    done = step_words(finding.steps, controls, finding.timing.at if finding.timing is not None else ())
    if finding.timing is not None:
        done[-1] += moment_words(finding.timing)
    done += _hand_moves(last_movement(finding), controls)
    return [
        CaseStep(
            words, tuple(_short_output(name, given[name], name in finding.motors) for name in names if name in given)
        )
        for words, given in zip(done, outputs, strict=True)
    ]


def _short_output(name: str, output: Number, is_motor: bool) -> str:
    return f"{plain(name)} {percent(output)}" + (f" ({of_hundred(output)})" if is_motor else "")
