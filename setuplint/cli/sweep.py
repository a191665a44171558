"""`setuplint trace --sweep STICK`: what every channel puts out along a stick's or knob's travel."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import groupby, pairwise, product

from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.dataclass import replace
from setuplint.formats.numbers import motor_output, percent
from setuplint.formats.plot import LEFT, Output, csv_table, plot_ways
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation, evaluate
from setuplint.plain.smoothed import Way, flown_curves, smoothing_ways, way_of_all, way_words
from setuplint.plain.state import Memory, State
from setuplint.setup import Setup
from setuplint.setup import formulas as f
from setuplint.setup.states import placed_formulas

COLUMNS = 61
STEPS = (1, 2, 5, 10, 20)  # percent from one place to the next
MOST_WORK = 10_000_000  # places, times the ways that channels may go, times what the file declares and its outputs
OUTPUT = 100  # what an output takes, as so much that is declared
MOST_CHANNELS = 64  # twice as many as have numbers
MOST_BETWEEN = 100  # places between two percent
MOST_TIED = 3  # overrides of one tie that are followed
MOST_CURVES = 2  # of unknown smoothing in one channel that are followed through all their ways
MOST_STRETCHES = 3  # that a line names


class Drawn(NamedTuple):
    """What a channel puts out along the travel, and if what, in words: empty where it is the only way."""

    words: str
    outputs: list[Output]


class Swept(NamedTuple):
    """The places of a stick or knob, how all stands there, every way that each channel may go, and what is left out."""

    stick: str
    places: list[Fraction]
    seen: list[Evaluation]
    ways: dict[str, list[Drawn]]
    left_out: list[str]


class Travel(NamedTuple):
    """A stick's or knob's travel, and what was seen along it: for each way in which curves are smoothed and ties end once."""

    setup: Setup
    stick: str
    state: State
    before: Memory
    places: list[Fraction]
    tied: Mapping[str, list[str]]
    runs: dict[tuple[object, int], list[Evaluation]]

    def run(self, way: Way, number: int) -> list[Evaluation]:
        """With curves smoothed so, and one of those that tie winning."""
        smoothing = way_of_all(self.setup, way)
        key = tuple(smoothing.items()), number
        if key not in self.runs:
            state, ties = self.state, {name: each[min(number, len(each) - 1)] for name, each in self.tied.items()}
            assumed = replace(state, ties={**state.ties, **ties}, smoothing={**state.smoothing, **smoothing})
            at = (replace(assumed, sticks={**state.sticks, self.stick: place}) for place in self.places)
            self.runs[key] = [evaluate(self.setup, each, self.before) for each in at]
        return self.runs[key]


def swept(setup: Setup, stick: str, state: State, before: Memory) -> Swept:
    """All along the travel, each place settled from the memory before. Trouble where there is no such stick or knob."""
    if stick not in setup.sticks:
        near = did_you_mean(stick, list(setup.sticks)) or f"; there is {', '.join(setup.sticks)}"
        raise Trouble(f"there is no stick or knob {stick}{near}")
    step = step_for(setup)
    between, most = sorted(places_between(setup, stick)), MOST_BETWEEN // step
    left_out = [f"of so large a file only every {step} percent is looked at"] * (step > 1)
    left_out += [f"no more than {most} places between two percent are looked at"] * (len(between) > most)
    places = sorted({*map(Fraction, range(-100, 101, step)), *between[:most]})

    travel = Travel(setup, stick, state, before, places, {}, {})
    seen = travel.run({}, 0)
    tied = tied_names(seen)
    if tied:
        travel = travel._replace(tied=tied, runs={})
    drawn = list(setup.channels)[:MOST_CHANNELS]
    more = {name: len(tied.get(name, ())) - MOST_TIED for name in drawn}
    left_out += [f"{plain(name)}: {count} more tie" for name, count in more.items() if count > 0]
    if len(setup.channels) > len(drawn):
        left_out.append(f"{len(setup.channels) - len(drawn):,} channels")
    found: dict[str, list[Drawn]] = {}
    several = curves_on_the_way(setup, seen)
    for name, curves in ((name, several[name]) for name in drawn):
        if len(curves) > MOST_CURVES:
            left_out.append(f"{plain(name)}: it hangs on {len(curves)} curves of unknown smoothing")
            found[name] = [Drawn("", [None] * len(places))]
        else:
            found[name] = channel_ways(name, smoothing_ways(curves), tied.get(name, [""])[:MOST_TIED], travel)
    return Swept(stick, places, seen, found, left_out)


def curves_on_the_way(setup: Setup, seen: Sequence[Evaluation]) -> dict[str, list[str]]:
    """By channel the curves of unknown smoothing that its lines read there."""
    modes = {each.mode: None for each in seen} if all(each.mode_known for each in seen) else (*setup.modes, None)
    return {
        name: list(dict.fromkeys(curve for mode in modes for curve in flown_curves(setup, channel, mode)))
        for name, channel in setup.channels.items()
    }


def step_for(setup: Setup) -> int:
    """How many percent there are from one place to the next, so that all places together are no more than so much work."""
    rivals = Counter((override.channel, override.priority) for override in setup.overrides.values())
    ways = 1 + MOST_TIED * any(count > 1 for count in rivals.values())
    ways *= 3 if any(curve.smoothing == "unknown" for curve in setup.curves.values()) else 1
    parts = len(setup.declared) + OUTPUT * min(len(setup.channels), MOST_CHANNELS)
    return next((step for step in STEPS if (200 // step + 1) * parts * ways <= MOST_WORK), STEPS[-1])


def places_between(setup: Setup, stick: str) -> set[Fraction]:
    """Places that are no whole percent, and where something may be that no whole percent shows: numbers with which formulas
    compare the stick, points of curves that read it, and the middle between two of these."""
    compared = {
        atom.number
        for path, formula in placed_formulas(setup) if path[0] in ("conditions", "modes", "overrides", "trainer")
        for atom in f.atoms(formula) if isinstance(atom, f.Compare) and atom.name == stick
    }  # fmt: skip
    reading = {(t.curve, t.rate) for channel in setup.channels.values() for t in channel.terms
               if t.source == stick and t.curve is not None and isinstance(t.rate, Fraction) and t.rate}  # fmt: skip
    points = {x * 100 / rate for curve, rate in reading for x, _ in setup.curves[curve].points}
    cuts = sorted(x for x in compared | points if -100 < x < 100)
    middles = {(one + other) / 2 for one, other in pairwise(cuts) if other <= one // 1 + 1}
    return {x for x in {*cuts, *middles} if x.denominator > 1}


def tied_names(seen: Iterable[Evaluation]) -> dict[str, list[str]]:
    """The overrides of each channel that tie anywhere, in the order in which they are met."""
    found: dict[str, dict[str, None]] = {}
    for each in seen:
        for channel, names in each.tied.items():
            found.setdefault(channel, {}).update(dict.fromkeys(names))
    return {channel: list(names) for channel, names in found.items()}


def channel_ways(name: str, smoothed: Sequence[Way], tied: Sequence[str], travel: Travel) -> list[Drawn]:
    """The ways of one channel that differ, each with what makes it."""
    each_way, ties = range(len(smoothed)), range(len(tied))
    columns = {
        (n, tie): [each.outputs[name] for each in travel.run(smoothed[n], tie)] for n, tie in product(each_way, ties)
    }
    bent = any(columns[n, tie] != columns[0, tie] for n, tie in columns)
    torn = any(columns[n, tie] != columns[n, 0] for n, tie in columns)
    found = []
    for n, tie in product(each_way if bent else (0,), ties if torn else (0,)):
        words = [f"smoothing is {way_words(smoothed[n])}"] * bent + [f"{tied[tie]} wins"] * torn
        found.append(Drawn(" and ".join(words), columns[n, tie]))
    return found


def as_csv(setup: Setup, found: Swept) -> str:
    """Every output in percent, the file's scale; a motor's from 0 to 100 too, and as pulses, but for what goes to the mixer of
    a swashplate: that has none of its own. A channel that may go several ways has a column for each."""
    numbers: dict[str, list[Output]] = {}
    of_hundred: dict[str, list[Output]] = {}
    for name, ways in found.ways.items():
        drives = setup.channels[name].drives
        for way in ways:
            end = f" if {way.words}" if way.words else ""
            numbers[f"{name} %{end}"] = way.outputs
            if drives == "motor":
                of_hundred[f"{name} of 100{end}"] = [None if x is None else (x + 100) / 2 for x in way.outputs]
            if setup.swash is None or drives not in ("aileron", "elevator", "collective"):
                of_hundred[f"{name} µs{end}"] = [None if x is None else setup.craft.pulse(x) for x in way.outputs]
    said = {f"{name} decided by": [decided_by(each, name) for each in found.seen] for name in found.ways}
    if setup.modes:
        said = {"mode": [each.mode or "" for each in found.seen]} | said
    return csv_table(found.stick, found.places, numbers | of_hundred, said)


def decided_by(seen: Evaluation, channel: str) -> str:
    """Who decides a channel; empty where its own line does."""
    tied = seen.tied.get(channel, ())
    more = f" or {len(tied) - MOST_TIED} more" if len(tied) > MOST_TIED else ""
    return " or ".join(tied[:MOST_TIED]) + more or seen.deciders[channel] or ""


def as_text(setup: Setup, values: Mapping[str, object], found: Swept, look: Look) -> Iterator[str]:
    """A drawing for each channel that changes on the way, a motor's with its ends on both scales; the others in a line each.
    `values` are the file's."""
    columns = min(COLUMNS, look.width - LEFT - 1) // 2 * 2 + 1
    still: dict[str, list[str]] = {"The same all the way": [], "Known in part": [], "Not known": []}
    for name, ways in found.ways.items():
        drives = setup.channels[name].drives
        known = {x for way in ways for x in way.outputs if x is not None}
        gaps = gap_words(found.places, ways)
        if any(len({*way.outputs} - {None}) > 1 for way in ways):
            yield f"  {plain(name)}, % over {plain(found.stick)}, %"
            yield from (f"  {row}" for row in plot_ways([way.outputs for way in ways], columns, found.places))
            ends = " to ".join(output_words(values, drives, end) for end in (min(known), max(known)))
            either = (
                f"a line for each way: {', '.join(f'if {plain(way.words)}' for way in ways)}" if len(ways) > 1 else ""
            )
            notes = [ends if drives == "motor" else "", either, gaps]
            yield from (
                wrap(f"{plain(name)}: {'; '.join(filter(None, notes))}", look.width, "  ", "  ") if any(notes) else ()
            )
            yield ""
        elif known:
            either = " or ".join(still_words(values, drives, way) for way in ways)
            kind = "Known in part" if gaps else "The same all the way"
            still[kind].append(f"{plain(name)} {either}{f' ({gaps})' if gaps else ''}")
        else:
            still["Not known"].append(plain(name))
    for head, told in {**still, "Left out": found.left_out}.items():
        if told:
            yield from wrap(f"{head}: {', '.join(told)}.", look.width, "  ", "  ")


def output_words(values: Mapping[str, object], drives: str, output: Output) -> str:
    if output is None:
        return "not known"
    return motor_output(values, output) if drives == "motor" else percent(output)


def still_words(values: Mapping[str, object], drives: str, way: Drawn) -> str:
    """The one value that a way has wherever it is known."""
    output = next((x for x in way.outputs if x is not None), None)
    return output_words(values, drives, output) + (f" if {plain(way.words)}" if way.words else "")


def gap_words(places: Sequence[Fraction], ways: Sequence[Drawn]) -> str:
    """Where an output is not known, in words; empty where it is known everywhere."""
    stretches = []
    known = zip(places, zip(*(way.outputs for way in ways), strict=True), strict=True)
    for is_gap, group in groupby(known, lambda pair: None in pair[1]):
        at = [percent(place) for place, _ in group]
        if is_gap:
            stretches.append(f"from {at[0]} to {at[-1]}" if len(at) > 1 else f"at {at[0]}")
    more = f" and in {len(stretches) - MOST_STRETCHES} stretches more" if len(stretches) > MOST_STRETCHES else ""
    return f"not known {' and '.join(stretches[:MOST_STRETCHES])}{more}" if stretches else ""
