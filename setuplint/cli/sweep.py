"""`setuplint trace --sweep STICK`: what every channel puts out along a stick's or knob's travel."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.dataclass import replace
from setuplint.formats.numbers import motor_output, percent
from setuplint.formats.plot import LEFT, csv_table, plot_lines
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.plain.evaluate import Evaluation, evaluate
from setuplint.plain.state import Memory, State
from setuplint.setup import Setup

COLUMNS = 61


def swept_states(setup: Setup, stick: str, state: State, before: Memory) -> tuple[list[Fraction], list[Evaluation]]:
    """Every percent of the travel, each settled from the memory before. Trouble where there is no such stick or knob."""
    if stick not in setup.sticks:
        near = did_you_mean(stick, list(setup.sticks)) or f"; there is {', '.join(setup.sticks)}"
        raise Trouble(f"there is no stick or knob {stick}{near}")
    places = [Fraction(at) for at in range(-100, 101)]
    return places, [evaluate(setup, replace(state, sticks={**state.sticks, stick: place}), before) for place in places]


def as_csv(setup: Setup, stick: str, places: Sequence[Fraction], seen: Sequence[Evaluation]) -> str:
    """Every output in percent, the file's scale; a motor's from 0 to 100 too, and as pulses, but for what goes to the mixer of
    a swashplate: that has none of its own."""
    outputs = {name: [each.outputs[name] for each in seen] for name in setup.channels}
    numbers: dict[str, list[Fraction | None]] = {f"{name} %": column for name, column in outputs.items()}
    for name, column in outputs.items():
        drives = setup.channels[name].drives
        if drives == "motor":
            numbers[f"{name} of 100"] = [None if value is None else (value + 100) / 2 for value in column]
        if setup.swash is None or drives not in ("aileron", "elevator", "collective"):
            numbers[f"{name} µs"] = [None if value is None else setup.craft.pulse(value) for value in column]
    said = {f"{name} decided by": [each.deciders[name] or "" for each in seen] for name in setup.channels}
    if setup.modes:
        said = {"mode": [each.mode or "" for each in seen]} | said
    return csv_table(stick, places, numbers, said)


def as_text(
    setup: Setup, values: Mapping[str, object], stick: str, seen: Sequence[Evaluation], look: Look
) -> Iterator[str]:
    """A drawing for each channel that changes on the way, a motor's with its ends on both scales; the others in a line each.
    `values` are the file's."""
    columns = min(COLUMNS, look.width - LEFT - 1) // 2 * 2 + 1
    still: list[str] = []
    for name in setup.channels:
        outputs = [each.outputs[name] for each in seen]
        known = {value for value in outputs if value is not None}
        if len(known) > 1:
            yield f"  {plain(name)}, % over {plain(stick)}, %"
            yield from (f"  {row}" for row in plot_lines(outputs, columns))
            if setup.channels[name].drives == "motor":
                ends = " to ".join(motor_output(values, end) for end in (min(known), max(known)))
                yield from wrap(f"{plain(name)}: {ends}", look.width, "  ", "  ")
            yield ""
        elif known:
            put = known.pop()
            is_motor = setup.channels[name].drives == "motor"
            still.append(f"{plain(name)} {motor_output(values, put) if is_motor else percent(put)}")
    if still:
        yield from wrap(f"The same all the way: {', '.join(still)}.", look.width, "  ", "  ")
