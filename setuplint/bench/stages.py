"""The stages of a bench card, one after the other."""

from __future__ import annotations

from setuplint.bench import items
from setuplint.bench.card_model import Card, CardStep
from setuplint.bench.flight import (
    add_flight_modes,
    add_hold,
    add_memory,
    add_other_overrides,
    add_rescue,
    reachable_mode_items,
)
from setuplint.bench.ground import add_power_up, add_receiver
from setuplint.bench.items import LOW, NO_HOLD, NO_RESCUE, SPRUNG, in_mode
from setuplint.bench.maker import Maker
from setuplint.bench.routes import Plan
from setuplint.bench.warnings import add_alarms, add_failsafe
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup


def bench_card(setup: Setup) -> Card:
    """The bench card of a set-up."""
    make = Maker(setup)
    sweeps = list(items.line_sweeps(make.setup))
    for sweep in [sweep for sweep in sweeps if sweep.given == f.FALSE]:
        make.leave_out(sweep.items, f"channels.{sweep.channel}.from is not given")
        sweeps.remove(sweep)
    make.require(*items.override_items(make.setup), *items.memory_items(make.setup), *items.timer_items(make.setup))
    make.require(*(item for sweep in sweeps for item in sweep.items))
    make.require(*(item for mode in items.mode_names(make.setup) for item in reachable_mode_items(make, mode)))
    make.add_stage("ready", [make.numbered_step("ready", "", [], (), ())])
    add_power_up(make)
    add_receiver(make, sweeps)
    add_hold(make)
    add_flight_modes(make, sweeps)
    add_rescue(make)
    add_memory(make)
    add_other_overrides(make)
    add_alarms(make)
    add_failsafe(make)
    add_motor(make)
    make.add_stage("range", [make.numbered_step("range", "", [], (), ())])
    add_first_hover(make)
    return make.card()


# -- the motor connected


def add_motor(make: Maker) -> None:
    setup = make.setup
    if not items.motor_channels(setup) or setup.craft.motor_off is None:
        return
    steps: list[Plan] = []
    calm_modes = [mode for mode in items.mode_names(setup) if not (mode and setup.modes[mode].idle_up)]
    wish = f.both(in_mode(setup, calm_modes), NO_HOLD, NO_RESCUE, SPRUNG, LOW, f.Not(f.Predicate("motor runs")))
    route, _ = make.route(wish) if calm_modes else (None, None)
    if route is not None:
        steps.append(make.plan("still", "", [], route))
    make.make_stage("motor", steps)
    if steps and make.stages[-1].key == "motor":
        made = list(make.stages.pop().steps)
        made.append(make.numbered_step("turns", "", [], (), ()))
        if setup.intent.hold is not None:
            made.append(make.numbered_step("cuts", "", [], (), ()))
        make.add_stage("motor", made)


def add_first_hover(make: Maker) -> None:
    steps: list[CardStep] = []
    if items.motor_channels(make.setup):
        steps.append(make.numbered_step("hover", "hover-throttle", [], (), ()))
    if make.setup.craft.rotor == "collective":
        steps.append(make.numbered_step("hover", "hover-collective", [], (), ()))
    make.add_stage("hover", steps)
