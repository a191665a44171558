"""What is left in the pack when its alarm speaks: arithmetic on sag and on charge, said as advice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import floor as whole

from setuplint.book.asking import Asking, plain
from setuplint.checks import amend, cells
from setuplint.checks.battery import (
    CHEMISTRIES,
    counting_timers,
    floor_limit,
    known_pack_alarms,
    lacking_key,
    number_words,
    other_count,
    pack_alarms,
    pack_sensors,
    threshold_words,
    volt_words,
)
from setuplint.checks.below_floor import not_of_cells, unwarned_case
from setuplint.checks.listening import PACK, Leaf, alarm_leaves, alarms_known, listens, sensor_kind, thresholds
from setuplint.checks.remaining import (
    BELOW,
    FULL,
    Longest,
    Reserve,
    careful_threshold,
    most_seconds,
    reserve_between,
    sag_of,
    threshold_in_time,
    wanted_seconds,
)
from setuplint.checks.timers import unreadable_tables
from setuplint.checks.trainer import RELEASED
from setuplint.checks.trips import Trip, beyond_range, stages, trips
from setuplint.curves.servo import compared
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.evaluate import truth
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.model import Alarm, Sensor

# -- a full pack


def voltage_alarm_always(ask: Asking) -> Iterator[Finding]:
    """An alarm of the pack sounds on a full pack at rest, with all other sensors at rest too."""
    sensors, listening = pack_sensors(ask), known_pack_alarms(ask)
    chemistry = ask.setup.battery.chemistry
    if not listening:
        return
    if chemistry is None:
        ask.missing("battery", "chemistry")
    else:
        full = ask.limit(f"full-{chemistry}", FULL)
        for alarm in listening:
            if not_of_cells(ask, [alarm]):
                ask.missing("battery", "cells", subject=alarm.name)
                continue
            cause = next((leaf for leaf in alarm_leaves(ask.setup, alarm) if holding_alarms(ask, leaf, full)), None)
            if cause is None or is_another_count(ask, alarm, cause):
                continue
            sounds = f.both(*at_full(ask, sensors, full), *others_at_rest(ask), f.Sounds(alarm.name))
            case = ask.find(sounds, alarm.name)
            if case is None or any(s.cell is not None and s.cell < full for s in case.states[1:]):
                continue
            if not ask.proved_impossible(f.both(sounds, RELEASED)):  # else the pilot asks for it, by pulling a switch
                yield always_finding(ask, alarm, cause, full, case)


def is_another_count(ask: Asking, alarm: Alarm, cause: Leaf) -> bool:
    """Whether cell-count-mismatch, or voltage-alarm-below-floor, speaks of that threshold: it fits another number of cells."""
    least = floor_limit(ask)
    given = [
        t
        for t in thresholds(ask.setup, alarm)
        if t.path == cause.path and t.volts == getattr(cause.atom, "number", None)
    ]
    return least is not None and any(True for t in given for _ in other_count(ask, t, least))


def unit_words(ask: Asking, sensor: str) -> int:
    """How many cells a sensor of the pack reads."""
    return ask.setup.cells_of(ask.setup.sensors[sensor]) or 1


def holding_alarms(ask: Asking, leaf: Leaf, full: Fraction) -> bool:
    """Whether a full pack makes this comparison what the alarm needs."""
    atom = leaf.atom
    if (
        not isinstance(atom, f.Compare)
        or leaf.allows
        or sensor_kind(ask.setup, atom.name) not in PACK
        or beyond_range(ask.setup, atom)
    ):
        return False
    return compared(full * unit_words(ask, atom.name), atom.op, atom.number) == leaf.positive


def equals_formula(name: str, value: Fraction) -> list[f.Formula]:
    return [f.Compare(name, ">=", value), f.Compare(name, "<=", value)]


def at_full(ask: Asking, sensors: Sequence[Sensor], full: Fraction) -> list[f.Formula]:
    """The pack is full by every sensor of which it is known across how many cells it stands."""
    known = [s for s in sensors if ask.setup.cells_of(s) is not None]
    return [part for s in known for part in equals_formula(s.name, full * unit_words(ask, s.name))]


def others_at_rest(ask: Asking) -> Iterator[f.Formula]:
    """Every sensor but the pack's reads what it reads at rest."""
    rest: State = ask.decider.rest
    for sensor in ask.setup.sensors.values():
        if sensor.reads not in PACK:
            value = rest.readings[sensor.name]
            yield from equals_formula(sensor.name, value) if isinstance(value, Fraction) else [f.Lost(sensor.name)]


def always_finding(ask: Asking, alarm: Alarm, cause: Leaf, full: Fraction, case: Case) -> Finding:
    atom = cause.atom
    assert isinstance(atom, f.Compare)
    count = unit_words(ask, atom.name)
    what = (
        f"{volt_words(full)} a cell"
        if count == 1
        else f"{volt_words(full * count)} ({volt_words(full)} a cell on {count} cells)"
    )
    below = (atom.op in ("<", "<=")) == cause.positive
    each = "" if count == 1 else f", {volt_words(atom.number / count)} a cell"
    named = {leaf.atom.name for leaf in alarm_leaves(ask.setup, alarm) if isinstance(leaf.atom, f.Compare)}
    return ask.finding(
        alarm.name,
        f"alarm {alarm.name} sounds on a full pack at rest, {what}: it is set to sound "
        f"{'below' if below else 'above'} {volt_words(atom.number)}{each}",
        cause.path,
        case,
        witness={
            name: plain(value)
            for name, value in case.matters.items()
            if not ask.setup.sensors.get(name) or name in named
        },
    )


# -- sag


def voltage_alarm_nervous(ask: Asking) -> Iterator[Finding]:
    """An alarm's threshold and the sag together make a resting voltage at which much of the charge is still there."""
    battery = ask.setup.battery
    found = trips(ask)
    if not found or lacking_key(ask, "chemistry", "resistance-mohm"):
        return
    assert battery.chemistry is not None
    limit = ask.limit(f"resting-{battery.chemistry}")
    for trip in found:
        if trip.wait < ask.limit("peak-after") and ask.unread("battery", "peak-current-a"):
            continue
        peak = battery.peak_current_a is not None and trip.wait < ask.limit("peak-after")
        current = battery.peak_current_a if peak else battery.hover_current_a
        sag = None if current is None else sag_of(ask, current)
        if current is None or sag is None:
            lacking_key(ask, "hover-current-a", "cells")
        elif trip.cell + sag >= limit:
            yield nervous_finding(ask, trip, current, sag, limit, "at the peak" if peak else "in a hover")


def nervous_finding(ask: Asking, trip: Trip, current: Fraction, sag: Fraction, limit: Fraction, when: str) -> Finding:
    battery = ask.setup.battery
    chemistry = str(battery.chemistry)
    left = cells.charge_left(chemistry, trip.cell + sag)
    each = number_words((battery.resistance_mohm or Fraction(0)) / (battery.cells or 1))
    units, least = trip.threshold.units, ask.limit(f"floor-{chemistry}", BELOW)
    under = Fraction(whole((limit - sag) * units * 100), 100)
    lower = under - Fraction(1, 100)
    helps = lower > least * units
    wanted = f"a threshold under {volt_words(under)}" if helps else f"none over the floor of {volt_words(least)} a cell"
    return ask.finding(
        trip.alarm.name,
        f"alarm {trip.alarm.name} sounds at {threshold_words(ask, trip.threshold)}, and {number_words(current)} A {when} pull a "
        f"cell of {each} mΩ down by about {volt_words(round(sag, 2))}: the cells then still have about "
        f"{volt_words(round(trip.cell + sag, 2))} at rest and {share_words(left)} of their charge; from "
        f"{volt_words(limit)} at rest on a "
        f"{CHEMISTRIES[chemistry]} cell is far from empty",
        trip.threshold.path,
        related=[Place(("battery", "resistance-mohm"), "what the sag rests on")],
        remedy=f"{ask.rule.remedy} Here that is {wanted}.",
        status="advice",
        edit=amend.threshold_edit(ask, trip.threshold.path, trip.atom, lower) if helps else None,
    )


def share_words(left: cells.ChargeLeft) -> str:
    """Whole percents: 17 to 28 %, or about 8 % where one published cell is all there is."""
    low, high = whole(left.least), -whole(-left.most)
    return f"about {round(left.median)} %" if left.least == left.most else f"{low} to {high} %"


# -- time left


def voltage_alarm_late(ask: Asking) -> Iterator[Finding]:
    """Flying, a cell under the floor: every pack alarm that sounds there left too little time, or waits too long; of an alarm
    with several thresholds each is judged by itself."""
    if ask.said(BELOW):
        return
    found = stages(ask)
    if not found:
        return
    least = floor_limit(ask)
    late = []
    for trip in found:
        slow = trip.wait > ask.limit("wait")
        reserve = None if least is None else reserve_of(ask, trip, least)
        if slow or (reserve is not None and reserve.after < wanted_seconds(ask)):
            late.append((trip, reserve))
        elif trip.merged:
            ask.not_judged(
                f"the thresholds of alarm {trip.alarm.name} are too many, or latched, to be judged one by one",
                trip.alarm.name,
            )
    if not late or (least is None and len(late) < len(found)):
        return
    tardy = {trip.alarm.name for trip, _ in late}
    others = [trip.alarm for trip in found if trip.alarm.name not in tardy]
    ways = {trip.sounds for trip, _ in late}
    timely = [f.Not(way) for way in dict.fromkeys(w for trip, _ in late for w in trip.beside) if way not in ways]
    case = None
    if (others or timely) and least is not None:
        case = ask.find(f.both(unwarned_case(ask, pack_sensors(ask), others, least), *timely, *all_heard(ask)))
        if case is None:
            return
    if case is not None:
        late = [x for x in late if truth(ask.setup, x[0].sounds, case.state, case.evaluation)] or late
    trip, reserve = max(late, key=lambda pair: (pair[0].cell, -pair[0].wait))
    yield late_finding(ask, trip, reserve, least, case)


def all_heard(ask: Asking) -> list[f.Formula]:
    return [f.Heard(s.name) for s in pack_sensors(ask)]


def reserve_of(ask: Asking, trip: Trip, least: Fraction) -> Reserve | Longest | None:
    """None, and noted, where a number is not given; None too where a hover takes no current. Without the resistance the
    longest there can be, where that is too short already."""
    battery = ask.setup.battery
    if lacking_key(ask, "capacity-mah", "hover-current-a") or not battery.hover_current_a:
        return None
    if battery.resistance_mohm is None and not ask.broken("battery", "resistance-mohm"):
        longest = most_seconds(ask, trip.cell, least)
        if longest - trip.wait < wanted_seconds(ask):
            return Longest(longest, longest - trip.wait)
    return None if lacking_key(ask, "cells", "resistance-mohm") else reserve_between(ask, trip.cell, trip.wait, least)


def late_finding(
    ask: Asking, trip: Trip, reserve: Reserve | Longest | None, least: Fraction | None, case: Case | None
) -> Finding:
    slow, need = trip.wait > ask.limit("wait"), wanted_seconds(ask)
    short = reserve is not None and reserve.after < need
    where = f"in mode {case.evaluation.mode}, " if case is not None and case.evaluation.mode else ""
    parts = [f"{where}alarm {trip.alarm.name} sounds at {threshold_words(ask, trip.threshold)}"]
    if reserve is not None and least is not None and short:
        parts.append(reserve_words(ask, trip, reserve, least))
    if slow:
        parts.append(
            f"it waits {number_words(trip.wait)} s below that, and {number_words(ask.limit('wait'))} s is the most"
        )
    edit = None
    if short and not slow and least is not None:
        cell = earlier_cell(ask, trip, reserve, least)
        number = None if cell is None else cell * trip.threshold.units
        edit = None if number is None else amend.threshold_edit(ask, trip.threshold.path, trip.atom, number)
    if slow and len(trip.keys) == 1:
        rest = None if reserve is None else reserve.seconds - ask.limit("wait")
        edit = Edit(trip.keys[0], number_words(ask.limit("wait"))) if rest is None or rest >= need else None
    earlier = earlier_threshold(ask, trip, reserve, least) if short and least is not None else ""
    return ask.finding(
        trip.alarm.name,
        "; ".join(parts),
        trip.keys[0] if slow and not short else trip.threshold.path,
        case,
        related=[Place(key, "it waits this long") for key in trip.keys] if short else [],
        remedy=f"{ask.rule.remedy} {earlier}".strip(),
        status="advice",
        edit=edit,
    )


def earlier_cell(ask: Asking, trip: Trip, reserve: Reserve | Longest | None, least: Fraction) -> Fraction | None:
    """A threshold a cell that leaves the time: the least in hundredths of a volt, or a careful one where no resistance is given.
    None where only a full pack would."""
    if not isinstance(reserve, Longest):
        return threshold_in_time(ask, trip.cell, trip.wait, least)
    cell = careful_threshold(ask, least, trip.wait)
    enough = most_seconds(ask, cell, least) - trip.wait >= wanted_seconds(ask)
    return cell if enough and cell > trip.cell else None


def reserve_words(ask: Asking, trip: Trip, reserve: Reserve | Longest, least: Fraction) -> str:
    """The charge and the seconds, so that they can be reckoned again: charge x capacity / current."""
    battery = ask.setup.battery
    current, capacity = battery.hover_current_a or Fraction(0), battery.capacity_mah or Fraction(0)
    if isinstance(reserve, Longest):
        wait = f", {number_words(trip.wait)} s of which it waits" if trip.wait else ""
        return (
            f"whatever the resistance (a sag of up to {volt_words(ask.limit('most-sag'))} a cell), down to the floor of "
            f"{volt_words(least)} there are no more than about {whole(reserve.seconds)} s of hover{wait}, where "
            f"{number_words(wanted_seconds(ask))} s are wanted"
        )
    sag = sag_of(ask, current) or Fraction(0)
    low, high = max(0, whole(reserve.least)), max(0, whole(reserve.most))
    about = max(0, whole(reserve.seconds))
    seconds = f"about {about} s" if low == high else f"about {about} s ({low} to {high} s)"
    wait = f", {number_words(trip.wait)} s of which it waits" if trip.wait else ""
    down, spare = ask.limit("way-down"), ask.limit("reserve")
    return (
        f"at {number_words(current)} A a cell sags by about {volt_words(round(sag, 2))}, so that "
        f"{share_words(reserve.left)} of the charge "
        f"is left then and {share_words(reserve.at_floor)} at the floor of {volt_words(least)}: by the medians "
        f"{tenth_words(reserve.left.median)} % and {tenth_words(reserve.at_floor.median)} % of "
        f"{number_words(capacity)} mAh that is "
        f"{seconds} of hover{wait}, where {number_words(spare + down)} s are wanted ({number_words(down)} s to come down, and "
        f"{number_words(spare)} s)"
    )


def tenth_words(value: Fraction) -> str:
    return f"{float(value):.1f}"


def earlier_threshold(ask: Asking, trip: Trip, reserve: Reserve | Longest | None, least: Fraction) -> str:
    """The threshold to set, in words."""
    cell = earlier_cell(ask, trip, reserve, least)
    if cell is None:
        return ""
    pack = f"{volt_words(cell * trip.threshold.units)}, " if trip.threshold.whole else ""
    return f"Here that is from about {pack}{volt_words(cell)} a cell on."


def voltage_warns_late(ask: Asking) -> Iterator[Finding]:
    """LiFePO4 watched by its voltage alone: neither charge used nor a timer."""
    listening = [a for a in pack_alarms(ask) if a.audible]
    chemistry = ask.setup.battery.chemistry
    if chemistry is None and listening:
        ask.missing("battery", "chemistry")
    if chemistry != "life":
        return
    unread = unreadable_tables(ask, "timers", "sensors", "alarms")
    for path in unread:
        ask.missing(*path)
    if unread or not alarms_known(ask) or not listening:
        return
    counted = [a for a in ask.setup.alarms.values() if a.audible and listens(ask.setup, a, ("charge-used",))]
    if counted or counting_timers(ask):
        return
    high, low = cells.charge_left(chemistry, Fraction(33, 10)), cells.charge_left(chemistry, Fraction(32, 10))
    names = " and ".join(a.name for a in listening)
    yield ask.finding(
        listening[0].name,
        f"only the voltage is watched, by alarm{'' if len(listening) == 1 else 's'} {names}, and a LiFePO4 cell hardly "
        f"shows its charge in it: at rest 3.3 V is about {round(high.median)} % full and 3.2 V about "
        f"{round(low.median)} %",
        ("alarms", listening[0].name),
        related=[Place(("battery", "chemistry"), "its voltage is flat")],
    )


# -- two stages


def alarm_order(ask: Asking) -> Iterator[Finding]:
    """A pack alarm can sound where none with a higher threshold does, with every pack sensor heard."""
    found = sorted(trips(ask), key=lambda trip: -trip.cell)
    count = 0  # of those above
    for place, low in enumerate(found):
        count = count if found[count].cell == low.cell else place
        if not count:
            continue
        high = found[count - 1]
        alone = [f.Sounds(low.alarm.name), low.fallen, *all_heard(ask)]
        nearest = f.Not(f.Sounds(high.alarm.name))
        if ask.proved_impossible(f.both(*alone, nearest)):  # a short question, and enough for nearly every setup
            continue
        silent = [f.Not(f.Sounds(trip.alarm.name)) for trip in found[:count]]
        case = ask.find(f.both(*alone, *silent), low.alarm.name)
        if case is not None:
            mode = f", in mode {case.evaluation.mode}" if case.evaluation.mode else ""
            yield ask.finding(
                f"{low.alarm.name}, {high.alarm.name}",
                f"alarm {low.alarm.name} ({volt_words(low.cell)} a cell) can sound without alarm {high.alarm.name} "
                f"({volt_words(high.cell)} a cell), which should come first{mode}",
                Place(("alarms", high.alarm.name, "when"), "the first warning"),
                case,
                related=[Place(("alarms", low.alarm.name, "when"), "the last one")],
            )
