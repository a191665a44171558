"""Everything that a card has to show of a set-up: each override, mode, alarm and line that decides an output, the hold, the
rescue, memory, the start check, failsafe."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import product
from typing import NamedTuple

from setuplint.bench import parts
from setuplint.bench.parts import Item
from setuplint.plain.evaluate import output
from setuplint.plain.state import RANGES
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import decimal_text
from setuplint.setup.model import BySwitch, Channel, Condition, Override, Setup, Term

HOLD, RESCUE = f.Predicate("hold called"), f.Predicate("rescue called")
SPRUNG = f.Predicate("sprung switches released")
NO_HOLD, NO_RESCUE = f.Not(HOLD), f.Not(RESCUE)
MOST_COMBINATIONS = 12  # of the switches that a line's rates hang on
PLACES = {"bottom": Fraction(-100), "middle": Fraction(0), "top": Fraction(100)}
# how near to a threshold a bench comes: the step of each kind of reading
NEAR: Mapping[str, Fraction] = {
    "pack-voltage": Fraction(1, 10),
    "cell-voltage": Fraction(1, 50),
    "receiver-voltage": Fraction(1, 10),
    "current": Fraction(1),
    "charge-used": Fraction(50),
    "rotor-speed": Fraction(50),
    "temperature": Fraction(2),
    "link-quality": Fraction(1),
    "signal-strength": Fraction(1),
}


def at(control: str, value: Fraction) -> f.Formula:
    return f.both(f.Compare(control, ">=", value), f.Compare(control, "<=", value))


LOW, TOP = at("throttle", Fraction(-100)), at("throttle", Fraction(100))


def in_mode(setup: Setup, modes: Iterable[str]) -> f.Formula:
    """One of the modes is flown; always, where the file has none."""
    return f.either(*(f.ModeIs(mode) for mode in modes)) if setup.modes else f.TRUE


def modes(setup: Setup) -> list[str]:
    """Every mode; one without a name where the file has none."""
    return list(setup.modes) or [""]


def motors(setup: Setup) -> list[Channel]:
    return [c for c in setup.channels.values() if c.drives == "motor"]


# -- what decides


def overrides(setup: Setup) -> Iterator[Item]:
    for override in setup.overrides.values():
        yield Item("override", override.name, formula=f.Decides(override.channel, override.name))


def mode_items(setup: Setup, mode: str) -> list[Item]:
    """A mode at three places of the stick, with neither hold nor rescue."""
    own = in_mode(setup, [mode])
    return [
        Item("mode", mode, place, f.both(own, NO_HOLD, NO_RESCUE, at("throttle", value)))
        for place, value in PLACES.items()
    ]


class Sweep(NamedTuple):
    """One term of a channel's line: where it can be seen (`given`), and the items at the ends of its stick; for a term
    that is no stick one item, and no stick. What is not described can be seen nowhere."""

    channel: str
    given: f.Formula
    stick: str
    items: tuple[Item, ...]


def sweeps(setup: Setup) -> Iterator[Sweep]:
    """Every term of every line that is described, lines that are the same in several modes once."""
    for channel in setup.channels.values():
        groups: dict[object, list[str]] = {}
        for mode in modes(setup):
            line = channel.line(mode or None)
            groups.setdefault(repr(line), []).append(mode)
        for group in groups.values():
            terms = channel.line(group[0] or None).terms
            own = f.both(in_mode(setup, group), f.Decides(channel.name, None))
            name = f"{channel.name} in {' or '.join(group)}" if len(groups) > 1 else channel.name
            if terms is None:
                yield Sweep(channel.name, f.FALSE, "", (Item("line", name, formula=f.FALSE),))
                continue
            yield Sweep(channel.name, own, "", (Item("line", name, formula=own),))
            for term in terms:
                yield from _term(setup, channel.name, name, own, term)


def _term(setup: Setup, channel: str, name: str, own: f.Formula, term: Term) -> Iterator[Sweep]:
    if term.kind == "number" or isinstance(term.source, Fraction):
        return
    if term.kind == "switch":
        for position in term.values:
            there = f.both(own, f.SwitchIs(term.source, position))
            yield Sweep(channel, there, "", (Item("value", name, f"{term.source} {position}", there),))
        return
    hangs = [amount.switch for amount in (term.rate, term.expo) if isinstance(amount, BySwitch)]
    choices = [[(s, p) for p in setup.switches[s].positions] for s in dict.fromkeys(hangs)]
    for combination in list(product(*choices))[:MOST_COMBINATIONS]:
        there = f.both(own, *(f.SwitchIs(switch, position) for switch, position in combination))
        words = "".join(f", {switch} {position}" for switch, position in combination)
        ends = tuple(
            Item("end", name, f"{term.source} {end}{words}", f.both(there, at(term.source, PLACES[end])))
            for end in ("bottom", "top")
        )
        yield Sweep(channel, there, term.source, ends)


# -- alarms


class Edge(NamedTuple):
    """One reading that an alarm hangs on: the items on either side of it, the quiet one first."""

    alarm: str
    sensor: str
    items: tuple[Item, ...]


def edges(setup: Setup, alarm: str) -> Iterator[Edge]:
    """Just on either side of each threshold, and with each sensor lost whose loss the alarm speaks of."""
    sounds = f.Sounds(alarm)
    for atom in _sensor_atoms(setup, setup.alarms[alarm].when):
        if isinstance(atom, f.Lost):
            heard = Item("quiet", alarm, f"{atom.sensor} heard", f.both(f.Not(sounds), f.Heard(atom.sensor)))
            lost = Item("sounds", alarm, f"{atom.sensor} lost", f.both(sounds, atom))
            yield Edge(alarm, atom.sensor, (heard, lost))
            continue
        reads = setup.sensors[atom.name].reads
        near = NEAR[reads]
        low, high = RANGES[reads]
        below, above = atom.number - near, atom.number + near
        sides = (above, below) if atom.op in ("<", "<=") else (below, above)
        if min(sides) < low or (reads != "pack-voltage" and max(sides) > high):
            continue
        quiet, loud = (at(atom.name, value) for value in sides)
        detail = f"{atom.name} {decimal_text(atom.number)}"
        yield Edge(
            alarm,
            atom.name,
            (
                Item("quiet", alarm, detail, f.both(f.Not(sounds), quiet)),
                Item("sounds", alarm, detail, f.both(sounds, loud)),
            ),
        )


def _sensor_atoms(setup: Setup, formula: f.Formula) -> list[f.Compare | f.Lost]:
    left, seen, found = [formula], set[str](), dict[f.Compare | f.Lost, None]()
    while left:
        for atom in f.atoms(left.pop(0)):
            if isinstance(atom, f.Holds) and atom.condition not in seen:
                seen.add(atom.condition)
                left.append(setup.conditions[atom.condition].when)
            elif isinstance(atom, f.Lost) or (isinstance(atom, f.Compare) and atom.name in setup.sensors):
                found[atom] = None
    return list(found)


# -- hold, rescue, memory


def drivers(setup: Setup) -> list[Override]:
    """The overrides that drive the rotor when they decide."""
    free = setup.craft.rotor_free if setup.craft.rotor_free is not None else setup.craft.motor_off
    found = []
    for override in setup.overrides.values():
        channel = setup.channels[override.channel]
        if channel.drives != "motor" or override.value is None or free is None:
            continue
        if output(channel, override.value) > free:
            found.append(override)
    return found


def hold_in(setup: Setup, mode: str) -> Item:
    """At full stick, with no override that drives the rotor."""
    alone = (f.Not(f.Active(override.name)) for override in drivers(setup))
    return Item("hold", mode, formula=f.both(in_mode(setup, [mode]), HOLD, TOP, *alone))


def hold_against(setup: Setup, mode: str, override: Override) -> Item:
    there = f.both(in_mode(setup, [mode]), HOLD, f.Active(override.name), TOP)
    return Item("hold-against", override.name, mode, formula=there)


def rescue_in(setup: Setup, mode: str) -> Item:
    came = f.both(in_mode(setup, [mode]), NO_HOLD, NO_RESCUE)
    return Item("rescue-in", mode, formula=f.both(RESCUE, NO_HOLD), came=came)


def rescue_out(setup: Setup, mode: str) -> Item:
    """Back in the mode."""
    return Item("rescue-out", mode, formula=f.both(NO_RESCUE, in_mode(setup, [mode])), came=RESCUE)


def rescue_over(mode: str) -> Item:
    """Out, wherever that leads."""
    return Item("rescue-out", mode, formula=NO_RESCUE, came=RESCUE)


RESCUE_HELD = Item("rescue-held", "hold", formula=f.both(RESCUE, HOLD))


def memory(setup: Setup) -> Iterator[Item]:
    for condition in setup.conditions.values():
        if condition.remembers:
            yield from remembering(condition)


def remembering(condition: Condition) -> tuple[Item, Item]:
    """A latch or toggle that stays on, and goes off."""
    on = f.Holds(condition.name)
    stays = Item("remembers", condition.name, formula=f.both(on, f.Not(condition.when)))
    return stays, Item("forgets", condition.name, formula=f.Not(on), came=on)


def timers(setup: Setup) -> Iterator[Item]:
    for timer in setup.timers.values():
        if timer.runs is not None:
            yield Item("counts", timer.name, formula=timer.runs)
            yield Item("stands", timer.name, formula=f.Not(timer.runs))


# -- power-up and failsafe


def ways(setup: Setup) -> Iterator[tuple[Item, tuple[f.Formula, ...]]]:
    """Each way not to meet the start check: one part of it at a time, each position of its switches, each side of its
    thresholds; with formulas for it, the preferred first."""
    if setup.start is None:
        return
    whole = setup.start.items if isinstance(setup.start, f.And) else (setup.start,)
    for part in whole:
        others = [other for other in whole if other is not part]
        broken = f.both(f.Not(part), *others)
        for atom in dict.fromkeys(f.atoms(part)):
            if isinstance(atom, f.SwitchIs):
                for position in setup.switches[atom.switch].positions:
                    there = f.both(broken, f.SwitchIs(atom.switch, position))
                    yield Item("refused", atom.switch, position, there, shown_as=parts.REFUSED), (there,)
            elif isinstance(atom, f.Compare) and atom.name in setup.sticks:
                there = broken
                sides = [
                    f.both(
                        broken,
                        f.Compare(atom.name, ">=", atom.number + 3),
                        f.Compare(atom.name, "<=", atom.number + 10),
                    ),
                    f.both(
                        broken,
                        f.Compare(atom.name, "<=", atom.number - 3),
                        f.Compare(atom.name, ">=", atom.number - 10),
                    ),
                    broken,
                ]
                yield Item("refused", atom.name, formula=there, shown_as=parts.REFUSED), tuple(sides)


STARTS = Item("starts", "start", shown_as=parts.STARTS)
RECEIVER = Item("receiver", "channels", by=parts.RECEIVER)
GONE_HELD = Item("gone", "held", formula=HOLD, shown_as=parts.GONE)
GONE_FREE = Item("gone", "free", formula=NO_HOLD, shown_as=parts.GONE)
GONE = Item("gone", "link", formula=f.FALSE, shown_as=parts.GONE)
RETURNS = Item("returns", "link", formula=HOLD, by=parts.ON)
