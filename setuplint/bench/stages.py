"""The stages of a bench card, one after the other."""

from __future__ import annotations

from functools import partial

from setuplint.bench import items
from setuplint.bench.card_model import Card, CardStep, Item
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
    sweeps = list(items.line_sweeps(make.missing))
    for sweep in [sweep for sweep in sweeps if sweep.given == f.FALSE]:
        make.leave_out(sweep.items, f"channels.{sweep.channel}.from is not given")
        sweeps.remove(sweep)
    make.require(*items.override_items(make.missing), *items.memory_items(make.missing), *items.timer_items(make.setup))
    make.require(*(item for sweep in sweeps for item in sweep.items))
    modes = {mode: reachable_mode_items(make, mode) for mode in items.mode_names(make.setup)}
    make.require(*(item for aims in modes.values() for item in aims))
    make.add_stage("ready", [make.numbered_step("ready", "", [], (), ())])
    for add_stage in (
        add_power_up,
        partial(add_receiver, sweeps=sweeps),
        add_hold,
        partial(add_flight_modes, modes=modes, sweeps=sweeps),
        add_rescue,
        add_memory,
        add_other_overrides,
        add_alarms,
        add_failsafe,
        add_motor,
    ):
        make.more_work()
        add_stage(make)
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
    still = Item("still", "motor", formula=wish)
    for _, route in make.routes([(still, [wish])] if calm_modes else []):
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
