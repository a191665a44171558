"""Judges of rules about the battery, alarms, the link and timers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import reduce

import numpy as np

from tests.oracle.formula import And, Compare, Condition, Const, Formula, Is, Not, Or
from tests.oracle.parts import TimedCondition, number

from .failsafe import is_engine
from .grid import VOLTS, Array, Choice, supply_floor, through
from .reach import Reach, Verdict
from .settled import Moment
from .states import Judged

FLOOR = {"lipo": "3.3", "lihv": "3.3", "li-ion": "3.0", "life": "2.8"}
FULL = {"lipo": "4.20", "lihv": "4.35", "li-ion": "4.20", "life": "3.65"}
NERVOUS = {"lipo": "3.75", "lihv": "3.8", "li-ion": "3.5", "life": "3.15"}
PACK = ("pack-voltage", "cell-voltage")


def battery(reach: Reach, key: str) -> Fraction | None:
    table = reach.world.data.get("battery", {})
    return number(table[key]) if key in table else None


def chemistry(reach: Reach) -> str | None:
    found = reach.world.data.get("battery", {}).get("chemistry")
    return None if found is None else str(found)


def sensors(reach: Reach, *reads: str) -> list[str]:
    return [name for name, what in reach.world.sensors.items() if what in reads]


def listens(reach: Reach, alarm: Formula) -> set[str]:
    """The sensors that an alarm compares with a number, itself or through conditions."""
    leaves = through(reach.world, alarm)
    return {leaf.name for leaf in leaves if isinstance(leaf, Compare) and leaf.name in reach.world.sensors}


def out_of_range(reach: Reach, formula: Formula) -> bool:
    """It compares a sensor with a number that it never shows: value-out-of-range says so, and all that follows from it."""
    compared = (x for x in through(reach.world, formula) if isinstance(x, Compare) and x.name in reach.world.sensors)
    return any(not low <= x.number <= high for x in compared for low, high in [reach.world.range_of(x.name)])


def listening(reach: Reach, *reads: str) -> list[str]:
    wanted = set(sensors(reach, *reads))
    return [name for name, alarm in reach.world.alarms.items() if listens(reach, alarm) & wanted]


def sound(reach: Reach, names: list[str]) -> Formula:
    sounding = reach.sounding()
    return Or(tuple(sounding[name] for name in names if name in sounding)) if names else Const(False)


def together(arrays: list[Array]) -> Array:
    """Their `and`, each first narrowed to the axes that others have too: whether it holds anywhere stays the same."""
    narrow = []
    for k, array in enumerate(arrays):
        others = [other for n, other in enumerate(arrays) if n != k]
        alone = tuple(a for a in range(array.ndim) if all(other.shape[a] == 1 for other in others))
        narrow.append(array.any(axis=alone, keepdims=True))
    return reduce(np.logical_and, narrow)


def timers(reach: Reach) -> dict[str, dict[str, object]]:
    found = reach.world.data.get("timers", {})
    return {n: t for n, t in found.items() if any(t.get(k) for k in ("voice", "tone", "vibrate"))}


def eighty(reach: Reach) -> Fraction | None:
    """Seconds of hover in 80 % of the capacity."""
    capacity, current = battery(reach, "capacity-mah"), battery(reach, "hover-current-a")
    return None if not capacity or not current else capacity * Fraction(36, 10) / current * Fraction(8, 10)


def counted(reach: Reach) -> list[str]:
    """The sensors of the charge used with a sounding alarm that listens to them."""
    sounding = reach.sounding().values()
    return [s for s in sensors(reach, "charge-used") if any(s in listens(reach, formula) for formula in sounding)]


def unwarned(reach: Reach, sensor: str) -> Verdict:
    """Whether more than 80 % of the capacity may be used in flight with no alarm of that sensor sounding."""
    capacity = battery(reach, "capacity-mah")
    if capacity is None or reach.motor is None or reach.world.motor_off is None:
        return None
    mine = sound(reach, [a for a, formula in reach.world.alarms.items() if sensor in listens(reach, formula)])
    used = capacity * 8 / 10
    return reach.anywhere(
        lambda m, c: m.compare(sensor, ">", used) & reach.yes(m, c, "flying") & ~np.asarray(m.plain(mine))
    )


def charge_alarm_late(reach: Reach) -> Verdict:
    found: Verdict = False
    for sensor in counted(reach):
        verdict = unwarned(reach, sensor)
        if verdict is None:
            found = found or None
        elif verdict:
            used = (battery(reach, "capacity-mah") or Fraction(0)) * 8 / 10
            mine = sound(reach, [a for a, formula in reach.world.alarms.items() if sensor in listens(reach, formula)])
            found = found or reach.anywhere(
                lambda m, c, s=sensor, mine=mine, used=used: (  # type: ignore[misc]
                    m.compare(s, ">", used) & reach.yes(m, c, "flying") & np.asarray(m.plain(mine))
                )
            )
    return found


def voltage_alarm_missing(reach: Reach) -> Verdict:
    if sensors(reach, *PACK):
        return not listening(reach, *PACK)
    if is_engine(reach) or any(unwarned(reach, name) is False for name in counted(reach)):
        return False
    most, found = eighty(reach), counting(reach)
    if most is None or not found:
        return None
    return False if min(number(t["seconds"]) for t in found.values()) <= most else None


def voltage_alarm_below_floor(reach: Reach) -> Verdict:
    if any(out_of_range(reach, alarm) for alarm in reach.world.alarms.values()):
        return None
    pack = sensors(reach, *PACK)
    if not pack or not listening(reach, *PACK):
        return False
    if chemistry(reach) is None or reach.motor is None or reach.world.motor_off is None:
        return None
    if reach.world.cells is None and "pack-voltage" in reach.world.sensors.values():
        return None
    floor = Fraction(FLOOR[str(chemistry(reach))])
    alarms = sound(reach, listening(reach, *PACK))

    def silent(moment: Moment, choice: Choice) -> Array:
        heard = reach.grid.constant(False)
        for name in pack:
            heard = heard | (moment.heard & ~moment.lost(name))
        low = heard & moment.volts_below(floor)
        return low & reach.yes(moment, choice, "flying") & ~moment.plain(alarms)

    return reach.anywhere(silent)


def thresholds(reach: Reach, alarm: str) -> set[Fraction]:
    """The numbers, volts a cell, that the pack falls under for an alarm to sound: compared with `<`, or with `>` in a `not`."""
    found = set()
    for leaf, negated in signed(reach.world.conditions, reach.world.alarms[alarm]):
        if isinstance(leaf, Compare) and reach.world.sensors.get(leaf.name) in PACK and (leaf.op[0] == "<") != negated:
            factor = reach.world.cell_factor(leaf.name)
            if factor:
                found.add(leaf.number / factor)
    return found


def counting(reach: Reach) -> Mapping[str, dict[str, object]]:
    """The sounding timers that count in some flying state; all of them where that is not known, or none does."""
    found = timers(reach)
    if reach.motor is None or reach.world.motor_off is None or len(found) == 1:
        return found

    def flown(runs: Formula) -> Verdict:
        return reach.anywhere(lambda m, c: reach.yes(m, c, "flying") & np.asarray(m.plain(runs)))

    kept = {n: t for n, t in found.items() if "runs" not in t or flown(reach.world.parse(str(t["runs"])))}
    return kept or found


def signed(
    conditions: Mapping[str, TimedCondition], formula: Formula, negated: bool = False
) -> Iterator[tuple[Formula, bool]]:
    """The leaves of a formula, through conditions, and whether they stand under an odd number of `not`."""
    match formula:
        case Not(part):
            yield from signed(conditions, part, not negated)
        case And(parts) | Or(parts):
            for part in parts:
                yield from signed(conditions, part, negated)
        case Condition(name):
            yield from signed(conditions, conditions[name].when, negated)
        case _:
            yield formula, negated


def cell_count_mismatch(reach: Reach) -> Judged:
    """Careful (from floor to full) for another count, below the floor or above full for this one."""
    if any(out_of_range(reach, alarm) for alarm in reach.world.alarms.values()):
        return None
    if not chemistry(reach) or not reach.world.cells:
        return None
    if voltage_alarm_below_floor(reach):
        return False  # said inside it
    floor, full = Fraction(FLOOR[str(chemistry(reach))]), Fraction(FULL[str(chemistry(reach))])
    for leaf in (x for f in reach.world.alarms.values() for x in through(reach.world, f)):
        part = "cells" in reach.world.data.get("sensors", {}).get(getattr(leaf, "name", ""), {})
        if isinstance(leaf, Compare) and reach.world.sensors.get(leaf.name) == "pack-voltage" and not part:
            volts = leaf.number
            if not floor <= volts / reach.world.cells <= full and any(floor <= volts / n <= full for n in range(1, 25)):
                return True
    return False


def fits_more_cells(reach: Reach, alarm: str, full: Fraction) -> bool:
    """A threshold of the whole pack that is more than a full one, and fits more cells: cell-count-mismatch says so."""
    cells, floor = reach.world.cells, Fraction(FLOOR[str(chemistry(reach))])
    leaves = [x for x in through(reach.world, reach.world.alarms[alarm]) if isinstance(x, Compare)]
    volts = [x.number for x in leaves if reach.world.sensors.get(x.name) == "pack-voltage"]
    return bool(cells) and any(
        v > full * (cells or 1) and any(floor <= v / n <= full for n in range(1, 25)) for v in volts
    )


def voltage_alarm_always(reach: Reach) -> Verdict:
    if any(out_of_range(reach, alarm) for alarm in reach.world.alarms.values()):
        return None
    if not sensors(reach, *PACK) or not listening(reach, *PACK):
        return False
    if chemistry(reach) is None or VOLTS not in reach.grid.axes:
        return None
    full = Fraction(FULL[str(chemistry(reach))])
    at_full = reach.grid.along(VOLTS, [x == full for x in reach.grid.axes[VOLTS]])
    alarms = sound(reach, [a for a in listening(reach, *PACK) if not fits_more_cells(reach, a, full)])
    rest = {name: reach.world.rest[name] for name in (*reach.world.switches, *reach.world.analogs)}

    def cries(moment: Moment, choice: Choice) -> Array:
        """The pack stands by: full, and every control at rest."""
        still = moment.at(rest)
        others = tuple(reach.grid.index[name] for name in reach.world.sensors if name in reach.grid.index)
        sounds = still.plain(alarms).all(axis=others, keepdims=True)  # no other sensor can make it silent
        return all_heard(reach, still) & at_full & sounds

    return reach.anywhere(cries)


def all_heard(reach: Reach, moment: Moment) -> Array:
    heard = moment.heard
    for name in sensors(reach, *PACK):
        heard = heard & ~moment.lost(name)
    return heard


def voltage_alarm_nervous(reach: Reach) -> Verdict:
    """Threshold a cell and the sag of one cell together at or over the chemistry's limit."""
    if any(out_of_range(reach, alarm) for alarm in reach.world.alarms.values()):
        return None
    resistance, cells = battery(reach, "resistance-mohm"), reach.world.cells
    peak, hover = battery(reach, "peak-current-a"), battery(reach, "hover-current-a")
    if not listening(reach, *PACK):
        return False
    if resistance is None or not cells or chemistry(reach) is None or (peak is None and hover is None):
        return None
    limit = Fraction(NERVOUS[str(chemistry(reach))])
    for alarm in listening(reach, *PACK):
        if alarm not in reach.sounding():
            continue
        after = delay_of(reach, alarm)
        for threshold in thresholds(reach, alarm):
            for current in [peak] if peak is not None and after < 2 else [hover]:
                if current is not None and threshold + current * resistance / 1000 / cells >= limit:
                    return True
    return False


def delay_of(reach: Reach, alarm: str) -> Fraction:
    conditions = reach.world.conditions
    names = {getattr(leaf, "name", "") for leaf in through(reach.world, reach.world.alarms[alarm])}
    return max((c.after for n, c in conditions.items() if n in names), default=Fraction(0))


def voltage_warns_late(reach: Reach) -> Verdict:
    """LiFePO4 with a voltage alarm alone: nothing that counts charge or time beside it."""
    if chemistry(reach) != "life" or not listening(reach, *PACK):
        return False
    return not timers(reach) and not listening(reach, "charge-used")


def alarm_order(reach: Reach) -> Verdict:
    if any(out_of_range(reach, alarm) for alarm in reach.world.alarms.values()):
        return None
    alarms = [n for n in listening(reach, *PACK) if n in reach.sounding()]
    for one in alarms:
        for other in alarms:
            a, b = thresholds(reach, one), thresholds(reach, other)
            if a and b and max(a) < max(b) and alone(reach, one, other):
                return True
    return False


def alone(reach: Reach, one: str, other: str) -> bool:
    """The lower sounds, the pack under its threshold and every pack sensor heard, and the higher does not."""
    first, second, under = reach.world.alarms[one], reach.world.alarms[other], max(thresholds(reach, one))
    return reach.anywhere(lambda m, c: m.plain(first) & m.volts_below(under) & all_heard(reach, m) & ~m.plain(second))


def flight_time_too_long(reach: Reach) -> Verdict:
    found, most = counting(reach), eighty(reach)
    if not found or is_engine(reach):
        return False
    return None if most is None else min(number(t["seconds"]) for t in found.values()) > most


def receiver_alarm_below_floor(reach: Reach) -> Verdict:
    supplies = sensors(reach, "receiver-voltage")
    if not supplies:
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None
    for name in supplies:
        mine = [a for a, formula in reach.world.alarms.items() if name in listens(reach, formula)]

        def silent(moment: Moment, choice: Choice, name: str = name, mine: tuple[str, ...] = tuple(mine)) -> Array:
            low = moment.compare(name, "<", supply_floor(reach.world.data.get("receiver-supply")))
            return low & reach.yes(moment, choice, "flying") & ~moment.plain(sound(reach, list(mine)))

        if reach.anywhere(silent):
            return True
    return False


def alarm_silent(reach: Reach) -> Judged:
    return frozenset(set(reach.world.alarms) - set(reach.sounding()))


def alarm_once(reach: Reach) -> Judged:
    found = set(last_of_the_charge(reach))
    for name, formula in reach.world.alarms.items():
        repeat = number(reach.world.data["alarms"][name].get("repeat", 0))
        named = {getattr(x, "name", "") for x in through(reach.world, formula) if isinstance(x, Is | Compare)}
        kinds = {reach.world.sensors[x] for x in named if x in reach.world.sensors}
        link = kinds & {"link-quality", "signal-strength"}
        if kinds & {*PACK, "receiver-voltage"} or link:
            most = 5 if link else 10
            if repeat == 0 or repeat > most:
                found.add(name)
    return frozenset(found)


def last_of_the_charge(reach: Reach) -> list[str]:
    """The alarm with the highest number of the charge used, where none of these repeats and nothing else tells of the pack."""
    pack = {
        n
        for n, formula in reach.sounding().items()
        if any(reach.world.sensors[s] in PACK for s in listens(reach, formula))
    }
    if timers(reach) or pack or is_engine(reach):
        return []
    used, growing = set(sensors(reach, "charge-used")), {}
    for name, formula in reach.sounding().items():
        if 0 < number(reach.world.data["alarms"][name].get("repeat", 0)) <= 10 and listens(reach, formula) & used:
            return []
        for leaf, negated in signed(reach.world.conditions, formula):
            if isinstance(leaf, Compare) and leaf.name in used and (leaf.op[0] == ">") != negated:
                growing[name] = max(leaf.number, growing.get(name, leaf.number))
    return [max(growing, key=lambda name: growing[name])] if growing else []


CAUSES = {
    **dict.fromkeys((*PACK, "charge-used", "current"), "pack"),
    **dict.fromkeys(("link-quality", "signal-strength"), "link"),
}


def alarm_voice_shared(reach: Reach) -> Judged:
    """Of which alarms, each but the first that says so."""
    found, tables = set(), reach.world.data.get("alarms", {})
    about = {n: {CAUSES.get(k, k) for s in listens(reach, a) for k in [reach.world.sensors[s]]}
             for n, a in reach.world.alarms.items()}  # fmt: skip
    names = list(tables)
    for k, name in enumerate(names):
        for other in names[:k]:
            words = {" ".join(str(tables[n].get("voice", "")).lower().split()) for n in (name, other)}
            if len(words) == 1 and words != {""} and about[name] and about[other] and not about[name] & about[other]:
                found.add(name)
    return frozenset(found)


def alarm_at_rest(reach: Reach) -> Judged:
    tables, found = reach.world.data.get("alarms", {}), set()
    moment, admitted = reach.power_up
    for name, formula in reach.sounding().items():
        if not tables[name].get("repeat"):
            continue
        for choice in reach.choices:
            stopped = reach.no(moment, choice, "motor runs") & moment.plain(
                reach.world.parse("sprung switches released")
            )
            if (moment.plain(formula) & stopped & admitted).any():
                found.add(name)
    return frozenset(found)


def link_alarm_missing(reach: Reach) -> Verdict:
    if not reach.world.sensors:
        return False
    links = set(sensors(reach, "link-quality", "signal-strength"))
    for formula in reach.world.alarms.values():
        for leaf, negated in signed(reach.world.conditions, formula):
            if isinstance(leaf, Compare) and leaf.name in links and (leaf.op[0] == "<") != negated:
                return False
            if isinstance(leaf, Is) and leaf.name in links and not negated:
                return False
    return True


def sensor_loss_unheard(reach: Reach) -> Verdict:
    """Of several pack sensors every one is lost: as long as one is heard, it warns."""
    names = sensors(reach, *PACK) or ([] if is_engine(reach) else counted(reach))
    if not names:
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None

    def unheard(moment: Moment, choice: Choice) -> Array:
        lost = [moment.lost(name) for name in names]
        silent = [~moment.plain(alarm) for alarm in reach.sounding().values()]
        return together([*lost, reach.yes(moment, choice, "flying"), *silent])

    return reach.anywhere(unheard)


def timer_stops_in_flight(reach: Reach) -> Verdict:
    found = counting(reach)
    if not found:
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None
    runs = [reach.world.parse(str(t["runs"])) if "runs" in t else Const(True) for t in found.values()]
    return reach.anywhere(lambda m, c: reach.yes(m, c, "flying") & ~np.asarray(m.plain(Or(tuple(runs)))))
