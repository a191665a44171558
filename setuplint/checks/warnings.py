"""What the alarms tell and do not tell: the receiver's supply, the link, a lost sensor, and noise at power-up."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import islice

from setuplint.book.asking import Asking
from setuplint.checks import amend
from setuplint.checks.battery import pack_alarms, pack_sensors, volt_words
from setuplint.checks.charge import charge_sensors, pack_watchers
from setuplint.checks.listening import (
    LINK,
    SUPPLY,
    alarm_leaves,
    alarms_known,
    compares,
    is_heard,
    is_sound_known,
    unread_sensor,
    unreadable_alarms,
    warns_of,
)
from setuplint.checks.remaining import BELOW
from setuplint.checks.structure import LEFT_OPEN, is_said_elsewhere
from setuplint.checks.trainer import RELEASED
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place, Remark
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import with_leaf_replaced
from setuplint.setup.model import Alarm, Sensor

SUPPLY_BELOW = "receiver-alarm-below-floor"
NO_KIND = (
    "[receiver-supply] is not given: what gives the receiver its voltage is not known, and 4.8 V is taken for its floor"
)


def quiet_formula(ask: Asking, alarm: Alarm) -> f.Formula:
    """The alarm makes no sound; unknown where it cannot be read."""
    if not is_sound_known(alarm):
        return f.Unknown(f"alarms.{alarm.name} cannot be read")
    return f.Not(f.Sounds(alarm.name))


def flying_in(case: Case) -> str:
    mode = case.evaluation.mode
    return f"flying in mode {mode}" if mode else "flying"


# -- the receiver's supply


def receiver_alarm_below_floor(ask: Asking) -> Iterator[Finding]:
    """Flying, the receiver's supply heard under its floor, and no alarm that listens to it sounds."""
    least = supply_floor(ask)
    unread_sensor(ask)
    if least is None:
        return
    for sensor in ask.setup.sensors.values():
        if sensor.reads not in SUPPLY:
            continue
        listening = [a for a in ask.setup.alarms.values() if compares(ask.setup, a, [sensor.name])]
        deaf = [a for a in ask.setup.alarms.values() if a not in listening and unreadable_alarms(ask.setup, a)]
        silent = [quiet_formula(ask, a) for a in listening]
        silent += [f.Unknown("alarms cannot be read")] if ask.broken("alarms") else []
        silent += [f.Unknown(because) for a in deaf for because in unreadable_alarms(ask.setup, a)]
        case = ask.find(f.both(f.Predicate("flying"), f.Compare(sensor.name, "<", least), *silent), sensor.name)
        if case is not None:
            yield supply_finding(ask, sensor, listening, least, case)


def supply_floor(ask: Asking) -> Fraction | None:
    """The least that what gives the receiver its voltage may come down to, in volts; None, and noted, where it cannot be read."""
    supply = ask.setup.supply
    if supply is None:
        if ask.unread("receiver-supply", "kind"):
            return None
        if any(sensor.reads in SUPPLY for sensor in ask.setup.sensors.values()):
            ask.remarks.append(Remark("supply-unknown", NO_KIND, Place(("receiver-supply",))))
        return ask.limit("floor")
    key, count = ("volts", supply.volts) if supply.kind == "regulator" else ("cells", supply.cells)
    if count is None:
        ask.missing("receiver-supply", key)
        return None
    if supply.kind == "regulator":
        return count * (1 - ask.limit("floor-regulator") / 100)
    return count * ask.limit(f"floor-{supply.kind}")


def supply_finding(ask: Asking, sensor: Sensor, listening: list[Alarm], least: Fraction, case: Case) -> Finding:
    reading = case.state.readings[sensor.name]
    assert isinstance(reading, Fraction)
    now = f"{flying_in(case)} with {sensor.name} at {volt_words(reading)}"
    place = Place(("sensors", sensor.name))
    lines, edit = [], None
    for alarm in listening:
        lines += [(x.atom, alarm, x.path) for x in alarm_leaves(ask.setup, alarm)
                  if isinstance(x.atom, f.Compare) and x.atom.name == sensor.name
                  and (x.atom.op in ("<", "<=")) == x.positive and not x.allows]  # fmt: skip
    if not listening:
        what = f"no alarm listens to {sensor.name}, which reads the receiver's supply"
    elif lines and (highest := max(lines, key=lambda line: line[0].number))[0].number < least:
        what = f"alarm {highest[1].name} sounds only below {volt_words(highest[0].number)}"
        place = Place(highest[2])
        edit = amend.threshold_edit(ask, highest[2], highest[0], least)
    else:
        what = f"alarm {listening[0].name}, which listens to {sensor.name}, is silent where it is needed"
        place = Place(("alarms", listening[0].name, "when"))
    related = [] if not listening else [Place(("sensors", sensor.name), "the receiver's supply")]
    return ask.finding(
        sensor.name,
        f"{what}: {now} nothing warns of it, and {volt_words(least)} is the floor of a receiver's supply",
        place,
        case,
        related=related,
        edit=edit,
    )


# -- the link, and lost sensors


def link_alarm_missing(ask: Asking) -> Iterator[Finding]:
    """Sensors exist, and none of the link or the signal has an alarm."""
    sensors = list(ask.setup.sensors.values())
    if any(warns_of(ask.setup, a, LINK) for a in ask.setup.alarms.values()):
        return
    if unread_sensor(ask) or not sensors or not alarms_known(ask):
        return
    links = [s for s in sensors if s.reads in LINK]
    if links:
        names = " and ".join(s.name for s in links)
        what = f"{names} {'reads' if len(links) == 1 else 'read'} the radio link, and no alarm sounds for it"
    else:
        what = f"the craft sends telemetry ({', '.join(s.name for s in sensors)}), but nothing of the radio link"
    yield ask.finding(
        links[0].name if links else "link",
        f"{what}: nothing warns before the link is gone",
        ("sensors", (links or sensors)[0].name),
    )


def sensor_loss_unheard(ask: Asking) -> Iterator[Finding]:
    """Flying, the sensors that pack alarms listen to are lost, and nothing sounds."""
    if ask.unread("alarms"):
        return
    unread_sensor(ask)
    sensors, alarms = pack_sensors(ask), pack_alarms(ask)
    if not sensors:  # then the charge used is what tells of the pack
        alarms = pack_watchers(ask)
        sensors = [s for s in charge_sensors(ask) if any(compares(ask.setup, a, [s.name]) for a in alarms)]
    heard = [s for s in sensors if any(compares(ask.setup, a, [s.name]) for a in alarms)] or sensors
    if not heard:
        return
    lost = f.both(*(f.Lost(s.name) for s in heard))
    silent = [quiet_formula(ask, alarm) for alarm in ask.setup.alarms.values()]
    case = ask.find(f.both(f.Predicate("flying"), lost, *silent))
    if case is None:
        return
    names = " and ".join(s.name for s in heard)
    yield ask.finding(
        heard[0].name,
        f"{flying_in(case)} with {names} lost nothing sounds: the pack runs down unheard",
        ("sensors", heard[0].name),
        case,
        related=[Place(("alarms", a.name), "it can no longer sound, and nothing says so") for a in alarms if a.audible],
    )


# -- sound or none


def alarm_silent(ask: Asking) -> Iterator[Finding]:
    """Neither voice, tone nor vibration."""
    ask.unread("alarms")
    for alarm in ask.setup.alarms.values():
        if not is_heard(ask, alarm) and is_sound_known(alarm):
            yield ask.finding(
                alarm.name,
                f"alarm {alarm.name} has neither voice, tone nor vibration: nobody hears it",
                ("alarms", alarm.name),
                edit=Edit(("alarms", alarm.name, "tone"), "true"),
            )


def alarm_never_sounds(ask: Asking) -> Iterator[Finding]:
    """An alarm with a sound that sounds in no moment, where no other rule says so: of the pack's, the receiver supply's, a
    condition's or a mode's."""
    ask.unread("alarms")
    for alarm in ask.setup.alarms.values():
        if not is_heard(ask, alarm) or ask.possible(f.Sounds(alarm.name), alarm.name):
            continue
        if ask.never(f.Sounds(alarm.name)) and not is_said_by_others(ask, alarm):
            yield ask.finding(
                alarm.name,
                f"alarm {alarm.name} can never sound: its `when` holds in no state of switches, sticks and telemetry",
                ("alarms", alarm.name, "when"),
            )


def is_said_by_others(ask: Asking, alarm: Alarm) -> bool:
    """Whether another rule speaks of what keeps the alarm from sounding."""
    if alarm.name in ask.said(BELOW) or is_alone_for_the_supply(ask, alarm):
        return True
    opened = alarm.when
    for atom in dict.fromkeys(f.atoms(alarm.when)):
        if isinstance(atom, f.ModeIs) and ask.proved_impossible(atom):
            opened = with_leaf_replaced(opened, atom, LEFT_OPEN)
    if opened != alarm.when and not ask.proved_impossible(opened):
        return True  # but for a mode that is never flown it could
    return is_said_elsewhere(ask, alarm.when, ("alarms", alarm.name, "when"), f.Sounds(alarm.name))


def is_alone_for_the_supply(ask: Asking, alarm: Alarm) -> bool:
    """Whether receiver-alarm-below-floor speaks of a sensor that no other alarm listens to, and so of this one."""
    setup = ask.setup
    mine = [name for name in setup.sensors if name in ask.said(SUPPLY_BELOW) and compares(setup, alarm, [name])]
    listening = ((a for a in setup.alarms.values() if compares(setup, a, [name])) for name in mine)
    return any([alarm] == list(islice(found, 2)) for found in listening)


def alarm_at_rest(ask: Asking) -> Iterator[Finding]:
    """A repeating alarm that sounds at power-up: no sensor heard yet, the motor stopped."""
    ask.unread("alarms")
    for alarm in ask.setup.alarms.values():
        if not (alarm.repeat or "repeat" in alarm.lost) or not is_heard(ask, alarm):
            continue
        if not alarm.repeat:
            ask.missing("alarms", alarm.name)
            continue
        at_rest = f.both(f.Sounds(alarm.name), f.Not(f.Predicate("motor runs")))
        case = ask.find(at_rest, alarm.name, at_power_up=True)
        # What only a pulled sprung switch sounds is asked for.
        if case is not None and not ask.decider.find(f.both(at_rest, RELEASED), at_power_up=True).impossible:
            sensors = bool(ask.setup.sensors)
            yield ask.finding(
                alarm.name,
                f"alarm {alarm.name} sounds every {float(alarm.repeat):g} s from the moment the transmitter is switched on, "
                f"{'before any sensor is heard and ' if sensors else ''}with the motor stopped",
                ("alarms", alarm.name, "when"),
                case,
            )
