"""The stages of a bench card, one after the other."""

from __future__ import annotations

from setuplint.bench import items
from setuplint.bench.card_model import Card, CardStep
from setuplint.bench.flight import flight_modes, hold, memory, mode_items, others, rescue
from setuplint.bench.ground import power_up, receiver
from setuplint.bench.items import LOW, NO_HOLD, NO_RESCUE, SPRUNG, in_mode
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan
from setuplint.bench.warnings import alarms, failsafe
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup


def card(setup: Setup) -> Card:
    """The bench card of a set-up."""
    make = Maker(setup)
    sweeps = list(items.sweeps(make.setup))
    for sweep in [sweep for sweep in sweeps if sweep.given == f.FALSE]:
        make.leave(sweep.items, f"channels.{sweep.channel}.from is not given")
        sweeps.remove(sweep)
    make.need(*items.overrides(make.setup), *items.memory(make.setup), *items.timers(make.setup))
    make.need(*(item for sweep in sweeps for item in sweep.items))
    make.need(*(item for mode in items.modes(make.setup) for item in mode_items(make, mode)))
    make.add("ready", [make.made("ready", "", [], (), ())])
    power_up(make)
    receiver(make, sweeps)
    hold(make)
    flight_modes(make, sweeps)
    rescue(make)
    memory(make)
    others(make)
    alarms(make)
    failsafe(make)
    motor(make)
    make.add("range", [make.made("range", "", [], (), ())])
    first_hover(make)
    return make.card()


# -- the motor connected


def motor(make: Maker) -> None:
    setup = make.setup
    if not items.motors(setup) or setup.craft.motor_off is None:
        return
    steps: list[Plan] = []
    calm_modes = [mode for mode in items.modes(setup) if not (mode and setup.modes[mode].idle_up)]
    wish = f.both(in_mode(setup, calm_modes), NO_HOLD, NO_RESCUE, SPRUNG, LOW, f.Not(f.Predicate("motor runs")))
    way, _ = make.seek(wish) if calm_modes else (None, None)
    if way is not None:
        steps.append(make.plan("still", "", [], way))
    make.stage("motor", steps)
    if steps and make.stages[-1].key == "motor":
        made = list(make.stages.pop().steps)
        made.append(make.made("turns", "", [], (), ()))
        if setup.intent.hold is not None:
            made.append(make.made("cuts", "", [], (), ()))
        make.add("motor", made)


def first_hover(make: Maker) -> None:
    steps: list[CardStep] = []
    if items.motors(make.setup):
        steps.append(make.made("hover", "hover-throttle", [], (), ()))
    if make.setup.craft.rotor == "collective":
        steps.append(make.made("hover", "hover-collective", [], (), ()))
    make.add("hover", steps)
