"""Everything that a card has to show of a set-up: each override, mode, alarm and line that decides an output, the hold,
the rescue, memory, the start check and failsafe."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from setuplint.bench import card_model
from setuplint.bench.card_model import Item
from setuplint.bench.missing import TOLD, Missing
from setuplint.dataclass import replace
from setuplint.named_tuple import NamedTuple
from setuplint.plain.channel_values import output
from setuplint.plain.state import RANGES
from setuplint.setup import formulas as f
from setuplint.setup.dependencies import atoms_behind
from setuplint.setup.formula_text import decimal_text, formula_text
from setuplint.setup.model import BySwitch, Condition, Override, Setup, Term

HOLD, RESCUE = f.Predicate("hold called"), f.Predicate("rescue called")
SPRUNG = f.Predicate("sprung switches released")
NO_HOLD, NO_RESCUE = f.Not(HOLD), f.Not(RESCUE)
MOST_COMBINATIONS = 12  # positions of the switches that select a line's rates
HALF = Fraction(50)  # where expo is seen
PLACES = {"bottom": Fraction(-100), "middle": Fraction(0), "top": Fraction(100)}
# how near to a threshold a bench can set each kind of reading
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


def control_at(control: str, value: Fraction) -> f.Formula:
    return f.both(f.Compare(control, ">=", value), f.Compare(control, "<=", value))


LOW, MIDDLE, TOP = (control_at("throttle", Fraction(value)) for value in (-100, 0, 100))


def in_mode(setup: Setup, modes: Iterable[str]) -> f.Formula:
    """One of the modes is flown; always, where the file has none."""
    return f.either(*(f.ModeIs(mode) for mode in modes)) if setup.modes else f.TRUE


def mode_names(setup: Setup) -> list[str]:
    """The names of all modes; one empty name where the file has none."""
    return list(setup.modes) or [""]


# -- what decides


def override_items(missing: Missing) -> Iterator[Item]:
    for override in missing.setup.overrides.values():
        decides = f.Decides(override.channel, override.name)
        yield Item("override", override.name, formula=decides, without=missing.override(override.name))


def mode_items(setup: Setup, mode: str) -> list[Item]:
    """A mode at three positions of the stick, with neither hold nor rescue."""
    own = in_mode(setup, [mode])
    return [
        Item("mode", mode, place, f.both(own, NO_HOLD, NO_RESCUE, control_at("throttle", value)))
        for place, value in PLACES.items()
    ]


class Sweep(NamedTuple):
    """One term of a channel's line. `given` is where it can be seen; `items` are at the ends of its stick, and half way for
    expo. A term that is no stick has one item and an empty `stick`; a line that is not described can be seen nowhere."""

    channel: str
    given: f.Formula
    stick: str
    items: tuple[Item, ...]


Seen = Callable[[f.Formula], f.Formula]


def line_seen(setup: Setup, channel: str, own: f.Formula, is_impossible: Callable[[f.Formula], bool]) -> Seen:
    """Where the channel's line can be seen beside a formula: with no override deciding; where that is impossible, limited."""
    alone = f.both(own, f.Decides(channel, None))
    limits = [f.Decides(channel, o.name) for o in setup.acting_on(channel) if o.limits]
    limited = f.both(own, f.either(*limits))

    def seen(beside: f.Formula) -> f.Formula:
        whole = f.both(alone, beside)
        return f.both(limited, beside) if limits and is_impossible(whole) else whole

    return seen


def line_sweeps(missing: Missing, is_impossible: Callable[[f.Formula], bool]) -> Iterator[Sweep]:
    """Every term of every described line; the modes that a channel says nothing of share one."""
    setup = missing.setup
    for channel in setup.channels.values():
        groups: dict[object, list[str]] = {}
        for mode in mode_names(setup):
            line = channel.line(mode or None)
            groups.setdefault("" if line == channel.own else mode, []).append(mode)
        for group in groups.values():
            terms = channel.line(group[0] or None).terms
            seen = line_seen(setup, channel.name, in_mode(setup, group), is_impossible)
            name = f"{channel.name} in {' or '.join(group)}" if len(groups) > 1 else channel.name
            if terms is None:
                yield Sweep(channel.name, f.FALSE, "", (Item("line", name, formula=f.FALSE),))
                continue
            without, own = missing.line(channel.name, group), seen(f.TRUE)
            yield Sweep(channel.name, own, "", (Item("line", name, formula=own, without=without),))
            for term in terms:
                yield from _term_sweeps(missing, channel.name, name, seen, term)


def _term_sweeps(missing: Missing, channel: str, name: str, seen: Seen, term: Term) -> Iterator[Sweep]:
    setup = missing.setup
    if term.kind == "number" or isinstance(term.source, Fraction):
        return
    if term.kind == "switch":
        for position in term.values:
            there = seen(f.SwitchIs(term.source, position))
            yield Sweep(channel, there, "", (Item("value", name, f"{term.source} {position}", there),))
        return
    hangs = [amount.switch for amount in (term.rate, term.expo) if isinstance(amount, BySwitch)]
    choices = [[(s, p) for p in setup.switches[s].positions] for s in dict.fromkeys(hangs)]
    ways: list[tuple[str, f.Formula]] = [(term.source, f.TRUE)]
    if term.lending is not None:
        ways = [(term.source, f.Not(term.lending.lent)), (term.lending.stick, term.lending.lent)]
    for combination, (stick, given) in product(_combinations(choices), ways):
        there = f.both(given, *(f.SwitchIs(switch, position) for switch, position in combination))
        words = "".join(f", {switch} {position}" for switch, position in combination)
        ends = tuple(
            Item("end", name, f"{stick} {end}{words}", seen(f.both(there, control_at(stick, PLACES[end]))))
            for end in ("bottom", "top")
        )
        if term.expo != Fraction(0):
            half, without = seen(f.both(there, control_at(stick, HALF))), missing.expo(channel)
            which = words if isinstance(term.expo, BySwitch) else ""  # told with one rate it is told
            ends = (ends[0], Item("end", name, f"{stick} half{which}", half, without=without), ends[1])
        yield Sweep(channel, seen(there), stick, ends)


def _combinations(choices: Sequence[Sequence[tuple[str, str]]]) -> list[tuple[tuple[str, str], ...]]:
    """All combinations of the switches' positions; of too many so few that each position is in one."""
    every = list(product(*choices))
    if len(every) <= MOST_COMBINATIONS:
        return every
    return [tuple(each[n % len(each)] for each in choices) for n in range(max(map(len, choices)))]


# -- alarms


class Edge(NamedTuple):
    """A threshold of an alarm: the items on either side of it, the quiet one first."""

    alarm: str
    sensor: str
    items: tuple[Item, ...]


def alarm_edges(missing: Missing, alarm: str) -> Iterator[Edge]:
    """The thresholds of an alarm, and the loss of each sensor that its condition names."""
    setup, sounds, without = missing.setup, f.Sounds(alarm), missing.alarm(alarm)
    for atom in dict.fromkeys(atoms_behind(setup, [setup.alarms[alarm].when])):
        if isinstance(atom, f.Lost):
            heard = Item("quiet", alarm, f"{atom.sensor} heard", f.both(f.Not(sounds), f.Heard(atom.sensor)))
            lost = Item("sounds", alarm, f"{atom.sensor} lost", f.both(sounds, atom), without=without)
            yield Edge(alarm, atom.sensor, (heard, lost))
        if not isinstance(atom, f.Compare) or atom.name not in setup.sensors:
            continue
        reads = setup.sensors[atom.name].reads
        near = NEAR[reads]
        low, high = RANGES[reads]
        below, above = atom.number - near, atom.number + near
        sides = (above, below) if atom.op in ("<", "<=") else (below, above)
        if min(sides) < low or (reads != "pack-voltage" and max(sides) > high):
            continue
        quiet, loud = (control_at(atom.name, value) for value in sides)
        detail = f"{atom.name} {decimal_text(atom.number)}"
        yield Edge(
            alarm,
            atom.name,
            (
                Item("quiet", alarm, detail, f.both(f.Not(sounds), quiet)),
                Item("sounds", alarm, detail, f.both(sounds, loud), without=without),
            ),
        )


# -- hold, rescue, memory


def rotor_free(setup: Setup) -> Fraction:
    """At or below this output a motor does not drive the rotor; where that is not measured, what surely lifts the craft."""
    craft = setup.craft
    known = (craft.rotor_free, craft.motor_off, craft.hover_throttle, craft.governed_above)
    return next((value for value in known if value is not None), Fraction(0))


def driving_overrides(setup: Setup) -> list[Override]:
    """The overrides that may drive the rotor when they decide."""
    return [o for o in _motor_overrides(setup) if _greatest(setup, o) > rotor_free(setup)]


def stopping_overrides(setup: Setup) -> list[Override]:
    """The overrides that let the rotor run free when they decide, the one with the last word last."""
    found = [o for o in _motor_overrides(setup) if _greatest(setup, o) <= rotor_free(setup)]
    return sorted(found, key=lambda override: override.priority or Fraction(0))


def _motor_overrides(setup: Setup) -> list[Override]:
    return [o for o in setup.overrides.values() if setup.channels[o.channel].drives == "motor" and o.numbers]


def _greatest(setup: Setup, override: Override) -> Fraction:
    """The most that it lets the channel put out."""
    return max(outputs_under(setup, override))


def outputs_under(setup: Setup, override: Override) -> list[Fraction]:
    """What the channel puts out at its numbers, and at the ends of what it lets through."""
    ends = [override.limited(end) for end in (Fraction(-150), Fraction(150))] if override.limits else []
    return [output(setup.channels[override.channel], demand) for demand in (*ends, *override.numbers.values())]


def hold_items(missing: Missing, mode: str, against: Sequence[Override]) -> Iterator[tuple[Item, Sequence[f.Formula]]]:
    """The hold at full stick in a mode: by each override that stops the motor, the others apart where that can be; then what
    each does against those overrides that drive the rotor. With each item go the formulas to try for it, the preferred first."""
    setup = missing.setup
    there = f.both(in_mode(setup, [mode]), HOLD, TOP)
    driving, stopping = driving_overrides(setup), stopping_overrides(setup)
    calm = f.both(*(f.Not(f.Active(override.name)) for override in driving))
    for stop in stopping:
        alone = f.both(*(f.Not(f.Active(other.name)) for other in stopping if other is not stop))
        decides, without = f.Decides(stop.channel, stop.name), missing.override(stop.name)
        for against_one in (None, *(o for o in against if o.channel == stop.channel)):
            rival = calm if against_one is None else f.Active(against_one.name)
            found = f.both(there, decides, rival)
            kind, subject = ("hold", mode) if against_one is None else ("hold-against", against_one.name)
            detail = stop.name if against_one is None else f"{mode} {stop.name}"
            wishes = (*_released(f.both(found, alone)), *_released(found))
            yield Item(kind, subject, detail, found, without=without), wishes
    yield Item("hold", mode, formula=f.both(there, calm)), _released(f.both(there, calm))
    for override in against:
        there_too = f.both(there, f.Active(override.name))
        yield Item("hold-against", override.name, mode, formula=there_too), _released(there_too)


def _released(formula: f.Formula) -> tuple[f.Formula, ...]:
    return f.both(formula, SPRUNG), formula


def rescue_in_item(setup: Setup, mode: str) -> Item:
    came = f.both(in_mode(setup, [mode]), NO_HOLD, NO_RESCUE)
    return Item("rescue-in", mode, formula=f.both(RESCUE, NO_HOLD), came=came)


def rescue_out_item(mode: str, there: f.Formula = f.TRUE) -> Item:
    """The rescue that was called in the mode ends; `there`: in what it ends."""
    return Item("rescue-out", mode, formula=f.both(NO_RESCUE, there), came=RESCUE)


RESCUE_HELD = Item("rescue-held", "hold", formula=f.both(RESCUE, HOLD))


def memory_items(missing: Missing) -> list[Item]:
    latches = [each for each in missing.setup.conditions.values() if each.remembers]
    return [item for latch in latches for item in latch_items(missing, latch)]


def latch_items(missing: Missing, condition: Condition) -> tuple[Item, Item]:
    """The two items of a latch or toggle: it stays on, and it goes off."""
    on, without = f.Holds(condition.name), missing.memory(condition.name)
    stays = Item("remembers", condition.name, formula=f.both(on, f.Not(condition.when)), without=without)
    return stays, Item("forgets", condition.name, formula=f.Not(on), came=on)


def timer_items(setup: Setup) -> Iterator[Item]:
    for timer in setup.timers.values():
        if timer.runs is not None:
            yield Item("counts", timer.name, formula=timer.runs)
            yield Item("stands", timer.name, formula=f.Not(timer.runs))


# -- power-up and failsafe


def start_terms(formula: f.Formula | None) -> tuple[f.Formula, ...]:
    """The parts of a start check, all of which must hold."""
    if formula is None:
        return ()
    return formula.items if isinstance(formula, f.And) else (formula,)


def start_part(term: f.Formula) -> Item:
    """A part of the start check as such."""
    return Item("refused", formula_text(term) or "start", formula=f.Not(term), shown_as=card_model.REFUSED)


def refusals(
    setup: Setup, check: f.Formula, term: f.Formula, shown_as: str
) -> Iterator[tuple[Item, tuple[f.Formula, ...]]]:
    """Each way to fail a part of a start check alone: by each position of its switches and on each side of its thresholds.
    With each item go the formulas to try for it, the preferred first."""
    broken = f.both(f.Not(term), *(other for other in start_terms(check) if other is not term))
    seen = False
    for atom in dict.fromkeys(f.atoms(term)):
        if isinstance(atom, f.SwitchIs):
            for position in setup.switches[atom.switch].positions:
                there = f.both(broken, f.SwitchIs(atom.switch, position))
                yield Item("refused", atom.switch, position, there, shown_as=shown_as), (there,)
            seen = True
        elif isinstance(atom, f.Compare) and atom.name in setup.sticks:
            sides = [f.both(broken, *_just_off(atom, way)) for way in (1, -1)]
            yield Item("refused", atom.name, formula=broken, shown_as=shown_as), (*sides, broken)
            seen = True
    if not seen:
        yield replace(start_part(term), formula=broken, shown_as=shown_as), (f.both(broken, LOW), broken)


def _just_off(atom: f.Compare, way: int) -> tuple[f.Formula, f.Formula]:
    """From 3 to 10 points above a threshold, or below it."""
    near, far = atom.number + 3 * way, atom.number + 10 * way
    return f.Compare(atom.name, ">=", min(near, far)), f.Compare(atom.name, "<=", max(near, far))


STARTS = Item("starts", "start", shown_as=card_model.STARTS)
RECEIVER = Item("receiver", "channels", by=card_model.RECEIVER)


def failsafe_items(missing: Missing) -> Iterator[tuple[Item, f.Formula]]:
    """Each number that the receiver was taught, and a formula: there the channel is elsewhere before the link is lost."""
    for name, entry in (missing.setup.failsafe or {}).items():
        if isinstance(entry, Fraction):
            there = Item("failsafe", name, shown_as=card_model.GONE, without=missing.failsafe(name))
            away = (f.OutputCompare(name, ">=", entry + TOLD), f.OutputCompare(name, "<=", entry - TOLD))
            yield there, f.either(*away)


GONE_HELD = Item("gone", "held", formula=HOLD, shown_as=card_model.GONE)
GONE_FREE = Item("gone", "free", formula=NO_HOLD, shown_as=card_model.GONE)
GONE = Item("gone", "link", formula=f.FALSE, shown_as=card_model.GONE)
RETURNS = Item("returns", "link", formula=HOLD, by=card_model.ON)
