"""The single changes of a setup that could make channels read as they were read: what a hand gets wrong in entering it.

Each says what it is, and gives the outputs of a state with it. What is a number is solved for: outputs are straight in every
number of a setup, between its limits, so two tries tell the third.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import combinations
from typing import Any

from setuplint.dataclass import replace
from setuplint.formats.numbers import decimal, percent
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import evaluate
from setuplint.plain.state import Memory, State
from setuplint.setup.model import BySwitch, Channel, Line, Override, Setup, Switch, Term
from setuplint.setup.smoothings import possible

Outputs = Mapping[str, Fraction | None]


class Slip(NamedTuple):
    """Something that may stand otherwise at the transmitter, in words, and what channels then give."""

    words: str
    outputs: Callable[[State, Memory], Outputs]


class Dial(NamedTuple):
    """A number that may stand otherwise: how it is called, what it is in the file, the setup with another, in whose unit."""

    words: str
    now: Fraction
    setup: Callable[[Fraction], Setup]
    least: int = -150
    most: int = 150
    shown: Callable[[Fraction], str] = percent
    limit: bool = False
    trim: str = ""  # a stick's trim, which is no part of a setup


def plain_slips(setup: Setup, channels: Iterable[str]) -> Iterator[Slip]:
    """Changes without a number, of these channels first and then of controls."""
    for name in channels:
        channel = setup.channels[name]
        turned_round = setup.with_part("channels", name, reversed=not channel.reversed)
        yield _slip(f"{name} is {'not ' if channel.reversed else ''}reversed", turned_round)
        yield from _swaps(setup, name)
        yield from _without_settings(setup, channel)
        yield from _of_overrides(setup, channel)
        yield from _of_lines(setup, channel)
    for switch in setup.switches.values():
        yield from _of_switch(setup, switch)
    for stick in setup.sticks.values():
        if stick.pupil_of is None:
            yield _of_controls(setup, f"{stick.name} works the other way round", _mirrored(stick.name))


LEAST_MOST = {"rate": (-150, 150), "expo": (-50, 100)}
SERVO = (
    ("sub_trim", "sub-trim", -100, 100),
    ("down", "travel down", 0, 150),
    ("up", "travel up", 0, 150),
    ("low", "low limit", -150, 150),
    ("high", "high limit", -150, 150),
)


def dials(setup: Setup, channels: Iterable[str]) -> Iterator[Dial]:
    """The numbers that these channels rest on."""
    for name in channels:
        channel = setup.channels[name]
        for key, words, least, most in SERVO:
            yield Dial(
                f"the {words} of {name}",
                getattr(channel, key),
                _channel_keys(setup, channel, key),
                least,
                most,
                limit=key in ("low", "high"),
            )
        yield Dial(f"the travel of {name}, both ways,", channel.up, _channel_keys(setup, channel, "up", "down"), 0)
        for override in setup.overrides.values():
            for key, number in override.numbers.items() if override.channel == name else ():
                yield Dial(f"the {key} of override {override.name}", number, _override_key(setup, override, key))
        for words, line, put in _lines(setup, channel):
            for n, term in enumerate(line.terms or ()):
                yield from _term_dials(setup, words + (f", mix {n}" if n else ""), term, _term_put(line, n, put))
        for curve in {t.curve: None for _, line, _ in _lines(setup, channel) for t in line.terms or () if t.curve}:
            for n, (x, y) in enumerate(setup.curves[curve].points):
                yield Dial(f"point {n + 1} of curve {curve} (stick {percent(x)})", y, _point(setup, curve, n))
    for stick in setup.sticks.values():
        if not stick.knob and stick.pupil_of is None:
            yield Dial(f"the {stick.name} trim", Fraction(0), lambda _: setup, -100, 100, trim=stick.name)


def outputs_of(setup: Setup, state: State, memory: Memory) -> Outputs:
    return evaluate(setup, state, memory).outputs


def turned(dial: Dial, value: Fraction) -> Slip:
    """The change of a dial to a value."""
    if dial.trim:
        setup = dial.setup(value)

        def trimmed(state: State, memory: Memory) -> Outputs:
            return outputs_of(setup, replace(state, trim={**state.trim, dial.trim: value}), memory)

        return Slip(f"{dial.words} stands at {dial.shown(value)}", trimmed)
    return _slip(f"{dial.words} is {dial.shown(value)}, not {dial.shown(dial.now)}", dial.setup(value))


# -- changes without a number


def _slip(words: str, setup: Setup) -> Slip:
    return Slip(words, lambda state, memory: outputs_of(setup, state, memory))


def _of_controls(setup: Setup, words: str, moved: Callable[[State], State]) -> Slip:
    return Slip(words, lambda state, memory: outputs_of(setup, moved(state), memory))


def _mirrored(stick: str) -> Callable[[State], State]:
    return lambda state: replace(state, sticks={**state.sticks, stick: -state.sticks[stick]})


def _swaps(setup: Setup, name: str) -> Iterator[Slip]:
    for other in setup.channels:
        if other != name:

            def swapped(state: State, memory: Memory, a: str = name, b: str = other) -> Outputs:
                found = outputs_of(setup, state, memory)
                return {**found, a: found[b], b: found[a]}

            yield Slip(f"{name} and {other} are swapped: each is where the other should be", swapped)


def _without_settings(setup: Setup, channel: Channel) -> Iterator[Slip]:
    plain = dict(zip(("down", "up", "sub_trim", "low", "high"), map(Fraction, (100, 100, 0, -150, 150)), strict=True))
    bare = setup.with_part("channels", channel.name, **plain)
    if bare.channels[channel.name] != channel:
        yield _slip(f"{channel.name} has no travel, sub-trim and limits entered", bare)
    if channel.up != channel.down:
        turned_round = setup.with_part("channels", channel.name, up=channel.down, down=channel.up)
        yield _slip(f"the two ends of {channel.name}'s travel are swapped", turned_round)


def _of_overrides(setup: Setup, channel: Channel) -> Iterator[Slip]:
    own = setup.acting_on(channel.name)
    for override in own:
        rest = {name: each for name, each in setup.overrides.items() if name != override.name}
        yield _slip(f"override {override.name} is not there", replace(setup, overrides=rest))
    for one, other in combinations(own, 2):
        half = setup.with_part("overrides", one.name, priority=other.priority)
        swapped = half.with_part("overrides", other.name, priority=one.priority)
        yield _slip(f"the priorities of {one.name} and {other.name} are swapped", swapped)


def _of_lines(setup: Setup, channel: Channel) -> Iterator[Slip]:
    for mode, line in channel.lines.items():
        for other, instead in {"": channel.own, **channel.lines}.items():
            if instead != line:
                what = f"its line of {other}" if other else "its own line"
                made = setup.with_part("channels", channel.name, lines={**channel.lines, mode: instead})
                yield _slip(f"{channel.name} follows {what} in {mode}", made)
    for name in sorted({term.curve for term in channel.terms if term.curve}):
        curve = setup.curves[name]
        for kind in dict.fromkeys(["none", *possible("unknown")]):
            if kind != curve.smoothing:
                smoothed = setup.with_part("curves", name, smoothing=kind)
                yield _slip(f"curve {name} has smoothing {kind}, not {curve.smoothing}", smoothed)
        for other in setup.curves:
            if other != name:
                exchanged = replace(setup, curves={**setup.curves, name: replace(setup.curves[other], name=name)})
                yield _slip(f"curve {other} is entered in place of {name}", exchanged)


def _of_switch(setup: Setup, switch: Switch) -> Iterator[Slip]:
    for one, other in combinations(switch.positions, 2):
        exchange = {one: other, other: one}

        def moved(state: State, name: str = switch.name, exchange: Mapping[str, str] = exchange) -> State:
            at = state.positions[name]
            return replace(state, positions={**state.positions, name: exchange.get(at, at)})

        yield _of_controls(setup, f"{one} and {other} of switch {switch.name} are swapped", moved)
    for another in setup.switches.values():
        if another.name > switch.name and another.positions == switch.positions:

            def exchanged(state: State, a: str = switch.name, b: str = another.name) -> State:
                at = state.positions
                return replace(state, positions={**at, a: at[b], b: at[a]})

            yield _of_controls(setup, f"the switches {switch.name} and {another.name} are swapped", exchanged)


# -- numbers

Put = Callable[[Line], Setup]


def _channel_keys(setup: Setup, channel: Channel, *keys: str) -> Callable[[Fraction], Setup]:
    return lambda value: setup.with_part("channels", channel.name, **dict.fromkeys(keys, value))


def _override_key(setup: Setup, override: Override, key: str) -> Callable[[Fraction], Setup]:
    return lambda value: setup.with_part("overrides", override.name, **{key.replace("-", "_"): value})


def _lines(setup: Setup, channel: Channel) -> Iterator[tuple[str, Line, Put]]:
    """Each line that differs from the others, what it is called, and how it is put back: in every mode that has it."""
    by_repr: dict[str, Line] = {}
    groups: dict[str, list[str]] = {}
    for mode, line in channel.lines.items() if channel.lines else [("", channel.own)]:
        by_repr.setdefault(repr(line), line)
        groups.setdefault(repr(line), []).append(mode)
    for key, modes in groups.items():
        words = channel.name if len(groups) == 1 else f"{channel.name} in {', '.join(modes)}"
        yield words, by_repr[key], _line_put(setup, channel, modes)


def _line_put(setup: Setup, channel: Channel, modes: list[str]) -> Put:
    def put(line: Line) -> Setup:
        changed = dict.fromkeys([mode for mode in modes if mode], line)
        own = channel.own if changed else line
        return setup.with_part("channels", channel.name, own=own, lines={**channel.lines, **changed})

    return put


def _term_put(line: Line, n: int, put: Put) -> Callable[[Term], Setup]:
    terms = line.terms or ()
    return lambda term: put(replace(line, terms=(*terms[:n], term, *terms[n + 1 :])))


def _term_dials(setup: Setup, words: str, term: Term, put: Callable[[Term], Setup]) -> Iterator[Dial]:
    if isinstance(term.source, Fraction):
        yield Dial(f"the number of {words}", term.source, lambda x: put(replace(term, source=x)))
    for place, value in term.values.items():
        yield Dial(f"the value of {words} at {term.source} {place}", value, _value_put(term, place, put))
    if term.kind != "stick":
        return
    for key in ("rate", "expo"):
        amount = getattr(term, key)
        for at, value in amount.at.items() if isinstance(amount, BySwitch) else [("", amount)]:
            where = f" at {amount.switch} {at}" if isinstance(amount, BySwitch) else ""
            yield Dial(f"the {key} of {words}{where}", value, _amount_put(term, key, at, put), *LEAST_MOST[key], _bare)


def _value_put(term: Term, place: str, put: Callable[[Term], Setup]) -> Callable[[Fraction], Setup]:
    return lambda value: put(replace(term, values={**term.values, place: value}))


def _amount_put(term: Term, key: str, at: str, put: Callable[[Term], Setup]) -> Callable[[Fraction], Setup]:
    def made(value: Fraction) -> Setup:
        amount = getattr(term, key)
        new = replace(amount, at={**amount.at, at: value}) if isinstance(amount, BySwitch) else value
        changed: Any = {key: new}
        return put(replace(term, **changed))

    return made


def _point(setup: Setup, curve: str, n: int) -> Callable[[Fraction], Setup]:
    def made(value: Fraction) -> Setup:
        points = tuple((x, value if k == n else y) for k, (x, y) in enumerate(setup.curves[curve].points))
        return setup.with_part("curves", curve, points=points)

    return made


def _bare(value: Fraction) -> str:
    return f"{decimal(value)} %"
