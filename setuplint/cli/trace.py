"""`setuplint trace`: what every channel puts out in one state, or step by step from power-up, and what decides it."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import partial

from setuplint.cli import control_settings, single_setup, timed
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble, complain
from setuplint.cli.ways import MOST_TIED, Supposed, Tied, Ties, each_together, supposed_ways
from setuplint.dataclass import replace
from setuplint.formats.case_text import move_words
from setuplint.formats.control_words import ControlWords, with_unit
from setuplint.formats.numbers import counted, decimal, motor_output, percent
from setuplint.formats.terminal import FIXED_SPACE, Look, plain, width, wrap
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation, evaluate, truth
from setuplint.plain.logic import Truth
from setuplint.plain.resting import rest_doubt
from setuplint.plain.settings import Given, Impossible, after, first
from setuplint.plain.smoothed import Way, way_words
from setuplint.plain.state import OFF, TRIM, Memory, State
from setuplint.setup import Setup, Texts
from setuplint.setup.formulas import PREDICATES, Predicate
from setuplint.source import Path

NOT_KNOWN = "not known"
MOST_ROWS = 9  # of one channel, for as many ways in which its curves may be smoothed


class ChannelRow(NamedTuple):
    """What a channel gives and what decides it; several of one channel are alternatives."""

    channel: str
    gives: str
    decided: str


class Traced(NamedTuple):
    """A file, a state that it is traced in, how all stands there, the overrides that tie, and every way that channels may go."""

    texts: Texts
    setup: Setup
    state: State
    before: Memory
    seen: Evaluation
    tied: Tied
    ways: dict[str, list[Supposed]]


def run(args: argparse.Namespace) -> int:
    if args.csv and not args.sweep:
        raise Trouble("--csv goes with --sweep: it writes what that draws")
    texts, setup, remarks = _loaded(args.file)
    try:
        shown = _text(args, texts, setup)
    except Trouble as trouble:
        raise Trouble(f"{trouble} ({'; '.join(remarks)})") if remarks else trouble from None
    for remark in remarks:
        complain(remark)
    write_out(shown)
    return 0


def _text(args: argparse.Namespace, texts: Texts, setup: Setup) -> str:
    split = [timed.split_wait(setup, written) for written in (args.set, *([text] for text in args.then))]
    given = [control_settings.parsed_settings(setup, pieces) for pieces, _ in split]
    waits = [wait for _, wait in split]
    if args.sweep in given[-1]:
        raise Trouble(f"{args.sweep} is moved along its travel by --sweep: leave it out of the last --set or --then")
    try:
        if any(wait is not None for wait in waits):
            if args.sweep:
                raise Trouble("--sweep draws what has settled: leave the waits out")
            return "\n".join(_timed_lines(texts, setup, given, waits)) + "\n"
        if args.sweep:
            return _sweep_text(texts, setup, given, args.sweep, csv=args.csv)
        return "\n".join(_trace_lines(texts, setup, given, stdout_look())) + "\n"
    except Impossible as impossible:
        raise Trouble(str(impossible)) from None


def _sweep_text(texts: Texts, setup: Setup, given: list[Given], stick: str, *, csv: bool) -> str:
    """The last state with a stick or knob moved all along its travel."""
    from setuplint.cli import sweep

    state = first(setup, given[0], heard=len(given) == 1)
    memory: Memory = OFF
    for moved in given[1:]:
        memory = evaluate(setup, state, memory).memory
        state = after(setup, state, moved)
    found = sweep.swept(setup, stick, state, memory)
    if csv:
        for left in found.left_out:
            complain(f"left out: {left}")
        return sweep.as_csv(setup, found)
    shown = stdout_look()
    standing = _controls_text(setup, replace(state, sticks={n: at for n, at in state.sticks.items() if n != stick}))
    head = wrap(f"{plain(stick)} moved along its travel, with {standing}", shown.width, "", "   ")
    return "\n".join([*head, "", *sweep.as_text(setup, texts.values, found, shown)]) + "\n"


def _loaded(path: str) -> tuple[Texts, Setup, list[str]]:
    """What is traced, and what to say beside it."""
    loaded = single_setup.loaded_setup(path)
    name, wrong = loaded.document.name, single_setup.mistake_count(loaded)
    if loaded.texts.is_unread:
        raise Trouble(f"{name}: nothing of a set-up can be read from it: setuplint lint shows why")
    remarks = []
    if wrong:
        remarks.append(
            f"{name}: {counted(wrong, 'mistake')} in it, and what rests on that is not known: setuplint lint shows where"
        )
    if doubt := rest_doubt(loaded.model):
        remarks.append(f"{name}: {doubt}")
    return loaded.texts, loaded.model, remarks


def _trace_lines(texts: Texts, setup: Setup, given: list[Given], look: Look) -> Iterator[str]:
    controls = ControlWords(texts.values)
    state = first(setup, given[0], heard=len(given) == 1)
    memory: Memory = OFF
    for number, moved in enumerate(given):
        if number:
            state = after(setup, state, moved)
            yield ""
        words = {name: where if isinstance(where, str) else float(where) for name, where in moved.items()}
        if len(given) > 1:
            yield from wrap(f"{number + 1}. {move_words(words, controls, first=number == 0)}", look.width, "", "   ")
        seen = evaluate(setup, state, memory)
        modes = (seen.mode,) if seen.mode_known else (*setup.modes, None)
        ways = supposed_ways(setup, seen.tied, modes, partial(_settled, setup, state, memory))
        traced = Traced(texts, setup, state, memory, seen, seen.tied, ways)
        yield from _state_lines(traced, look)
        yield from _fact_lines(traced, look, powered_up=number == 0 and len(given) > 1)
        memory = seen.memory


def _settled(setup: Setup, state: State, memory: Memory, ties: Ties, way: Way) -> Evaluation:
    return evaluate(setup, replace(state, ties=ties, smoothing=way), memory)


def _state_lines(traced: Traced, look: Look) -> Iterator[str]:
    """How the controls stand, what each channel gives, and why."""
    yield from wrap(_controls_text(traced.setup, traced.state), look.width, "", "   ")
    yield ""
    yield from _table_lines(list(_channel_rows(traced)), look)
    yield ""
    yield from _because_lines(traced)


def _timed_lines(texts: Texts, setup: Setup, given: Sequence[Given], waits: Sequence[Fraction | None]) -> Iterator[str]:
    """Step by step, each as it is at the end of its wait: delays and ramps under way included."""
    shown, controls = stdout_look(), ControlWords(texts.values)
    runs: dict[object, list[timed.Seen]] = {}

    def run(number: int, ties: Ties, way: Way) -> Evaluation:
        key = (*ties.items(), *way.items())
        if key not in runs:
            runs[key] = list(timed.seen_in_time(setup, given, waits, ties, way))
        return runs[key][number].moment.evaluation

    for number, seen in enumerate(timed.seen_in_time(setup, given, waits, {}, {})):
        words = {name: where if isinstance(where, str) else float(where) for name, where in given[number].items()}
        wait = waits[number]
        waited = "until all has settled" if wait is None else f"{decimal(wait)} s"
        head = f"{number + 1}. {move_words(words, controls, first=number == 0)}, wait {waited}: at {decimal(seen.at)} s"
        yield from ([""] if number else [])
        yield from wrap(head, shown.width, "", "   ")
        now = seen.moment.evaluation
        ways = supposed_ways(setup, seen.tied, (*setup.modes, None), partial(run, number))  # it may come from any line
        traced = Traced(texts, setup, seen.state, now.memory, now, seen.tied, ways)
        yield from _state_lines(traced, shown)
        late = ", ".join(f"{plain(n)} {'stays on' if on else 'waits'}" for n, on in seen.moment.late.items())
        yield from wrap(late or "none", shown.width, "  not settled:".ljust(15) + " ", " " * 16)
        yield from _fact_lines(traced, shown, powered_up=number == 0)


def _in_all(values: Iterable[Truth]) -> Truth:
    found = set(values)
    return found.pop() if len(found) == 1 else None


def _controls_text(setup: Setup, state: State) -> str:
    """Every control and reading as it stands."""
    sticks = (f"{name} {percent(where)}" for name, where in state.sticks.items())
    switches = (f"{name} {where}" for name, where in state.positions.items())
    readings = (
        f"{name} {where if isinstance(where, str) else with_unit(setup.sensors[name].reads, where)}"
        for name, where in state.readings.items()
    )
    trims = (f"{name}{TRIM} {percent(amount)}" for name, amount in state.trim.items() if amount)
    return ", ".join(map(plain, (*switches, *sticks, *trims, *readings)))


def _channel_rows(traced: Traced) -> Iterator[ChannelRow]:
    """The rows of each channel: one for each winner of its ties, each in every way in which its curves may be smoothed where
    that matters; of many ways those that give least and most."""
    for name, ways in traced.ways.items():
        by_winner: dict[str, list[Supposed]] = {}
        for way in ways:
            by_winner.setdefault(way.wins, []).append(way)
        outputs = {wins: [way.seen.outputs[name] for way in some] for wins, some in by_winner.items()}
        torn = name in traced.seen.tied or len({tuple(some) for some in outputs.values()}) > 1
        for wins, some in list(by_winner.items())[: None if torn else 1]:
            bent = len({*outputs[wins]}) > 1
            known = sorted(
                (way for way in some if way.seen.outputs[name] is not None), key=lambda way: way.seen.outputs[name] or 0
            )
            told = [known[0], known[-1]] if bent and len(some) > MOST_ROWS else some
            for way in told if bent else told[:1]:
                text = _decided_text(traced, name, way, torn=torn) + (
                    f", if smoothing is {way_words(way.smoothing)}" if bent else ""
                )
                yield ChannelRow(name, _output_text(traced, name, way.seen.outputs[name]), text)
        if not ways:
            yield ChannelRow(name, NOT_KNOWN, _decided_text(traced, name, Supposed("", {}, traced.seen), torn=False))
        if (more := len(traced.tied.get(name, ())) - len(by_winner)) > 0:
            yield ChannelRow(name, NOT_KNOWN, f"{more} more tie")


def _output_text(traced: Traced, channel: str, value: Fraction | None) -> str:
    if value is None:
        return NOT_KNOWN
    is_motor = traced.setup.channels[channel].drives == "motor"
    values = traced.texts.values
    return motor_output(values, value) if is_motor else percent(value)


def _decided_text(traced: Traced, channel: str, way: Supposed, *, torn: bool) -> str:
    """What decides a channel; in time also which tie that was won before made it go that way."""
    setup, texts, override = traced.setup, traced.texts, way.seen.deciders[channel]
    after = f", after {plain(way.wins)} won a tie" if torn and channel not in way.seen.tied else ""
    if override is None:
        own = _own_line_text(texts, way.seen, channel) if setup.channels[channel].described else "not described"
        return own + after
    where = f"{plain(override)} ({_line_text(texts, ('overrides', override))})"
    tie = " in a tie" if channel in way.seen.tied else ""
    of = f", of {_own_line_text(texts, way.seen, channel)}" if setup.overrides[override].limits else ""
    return f"{where}{tie}{of}{after}"


def _own_line_text(texts: Texts, seen: Evaluation, channel: str) -> str:
    if not seen.mode_known:
        return "its own line; the mode is not known"
    path: Path = ("channels", channel)
    if seen.mode is not None and texts.own.key_span((*path, "in", seen.mode)) is not None:
        return f"in.{plain(seen.mode)} ({_line_text(texts, (*path, 'in', seen.mode))})"
    return f"its own line ({_line_text(texts, path)})"


def _line_text(texts: Texts, path: Path) -> str:
    """Where a part is declared; with the file's name where that is a shared part."""
    document = texts.holder(path)
    of = f"{plain(document.name)}, " if document is not texts.own else ""
    return f"{of}line {document.position(document.span(path).start)[0]}"


def _because_lines(traced: Traced) -> Iterator[str]:
    """The chain of conditions behind what decides: overrides, the mode, and alarms that sound."""
    from setuplint.formats.reasons import Reason, Reasons, tree_lines

    setup, texts, seen = traced.setup, traced.texts, traced.seen

    def line(table: str, name: str) -> str:
        return _line_text(texts, (table, name))

    because = Reasons(setup, traced.state, seen, traced.before, line)
    nodes: list[Reason] = []
    mode = setup.modes.get(seen.mode or "")
    if mode is not None and mode.when is not None:
        nodes.append(because.node(f"mode {plain(mode.name)} ({line('modes', mode.name)})", mode.when))
    deciding = {name for name in seen.deciders.values() if name is not None}.union(
        *(names[:MOST_TIED] for names in seen.tied.values())
    )
    for override in setup.overrides.values():
        if override.name in deciding:
            head = f"{plain(override.name)} ({line('overrides', override.name)})"
            nodes.append(because.node(head, override.when))
    for alarm in setup.alarms.values():
        if alarm.audible and truth(setup, alarm.when, traced.state, seen) is True:
            head = f"alarm {plain(alarm.name)} sounds ({line('alarms', alarm.name)})"
            nodes.append(because.node(head, alarm.when))
    if nodes:
        yield "  because"
        yield from tree_lines(nodes, "  ")
        yield ""


def _table_lines(rows: list[ChannelRow], look: Look) -> Iterator[str]:
    heads = [ChannelRow("channel", "gives", "decided by"), *rows]
    left = max(width(plain(row.channel)) for row in heads)
    middle = max(width(row.gives) for row in heads) + len("or ")
    before = ""
    for row in heads:
        again = row.channel == before
        before = row.channel
        name, gives = ("", f"or {row.gives}") if again else (plain(row.channel), row.gives)
        first = f"  {name}{' ' * (left - width(name))}  {gives}{' ' * (middle - width(gives))}  "
        yield from wrap(row.decided, max(look.width, width(first) + 20), first, " " * width(first))


def _fact_lines(traced: Traced, look: Look, *, powered_up: bool) -> Iterator[str]:
    setup, state, seen = traced.setup, traced.state, traced.seen
    mode = ("none holds" if setup.modes else "the file has none") if seen.mode is None else plain(seen.mode)
    yield f"  mode:        {mode if seen.mode_known else NOT_KNOWN}"
    conditions = {name: value for name, value in seen.conditions.items() if value is not False}
    alarms = {
        alarm.name: value
        for alarm in setup.alarms.values()
        if alarm.audible and (value := truth(setup, alarm.when, state, seen)) is not False
    }
    every_way = list(each_together(seen, traced.ways))
    predicates = {name: _in_all(truth(setup, Predicate(name), state, one) for one in every_way) for name in PREDICATES}
    stated = {name: value for name, value in predicates.items() if value is not False}
    for label, found in (("conditions", conditions), ("alarms", alarms), ("state", stated)):
        words = [name.replace(" ", FIXED_SPACE) + ("" if value else "?") for name, value in found.items()]
        yield from wrap(", ".join(words) or "none", look.width, f"  {label}:".ljust(15), " " * 15)
    if any(value is None for value in (*conditions.values(), *alarms.values(), *stated.values())):
        yield "  (with a question mark: not known, because something it rests on is not given or goes several ways)"
    if powered_up and predicates["start allowed"] is not True:
        yield "  The start check does not let the transmitter start like this."
