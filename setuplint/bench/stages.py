"""The stages of a bench card, one after the other."""

from __future__ import annotations

from functools import partial

from setuplint.bench import items
from setuplint.bench.card_model import Card, CardStep, Item, Move
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
from setuplint.bench.warnings import add_alarms, add_failsafe
from setuplint.bench.ways import leads_come_out, stop_is_measured, turns_early
from setuplint.budget import Spent
from setuplint.dataclass import replace
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup


def bench_card(setup: Setup, spent: Spent | None = None) -> Card:
    """The bench card of a set-up. `spent` is a budget to keep to."""
    make = Maker(setup, spent)
    sweeps = list(items.line_sweeps(make.missing, make.questions.is_impossible))
    for sweep in [sweep for sweep in sweeps if sweep.given == f.FALSE]:
        make.leave_out(sweep.items, f"channels.{sweep.channel}.from is not given")
        sweeps.remove(sweep)
    make.require(*items.override_items(make.missing), *items.memory_items(make.missing), *items.timer_items(make.setup))
    make.require(*(item for sweep in sweeps for item in sweep.items))
    modes = {mode: reachable_mode_items(make, mode) for mode in items.mode_names(make.setup)}
    make.require(*(item for aims in modes.values() for item in aims))
    flown = (Item("flown", mode, formula=f.ModeIs(mode), without=make.missing.mode(mode)) for mode in make.setup.modes)
    make.require(*flown)  # told by its voice or by what its lines give, hold or not
    make.add_stage("ready", [make.numbered_step("ready", "", [], (), ())])
    for add_stage in (
        add_power_up,
        partial(add_receiver, sweeps=sweeps),
        add_hold,
        partial(add_flight_modes, modes=modes, sweeps=sweeps),
        add_corrections,
        add_rescue,
        add_memory,
        add_other_overrides,
        add_alarms,
        add_failsafe,
        add_range,
        add_motor,
    ):
        make.more_work()
        add_stage(make)
    add_first_hover(make)
    return make.card()


def add_corrections(make: Maker) -> None:
    """What the unit and the gyro do against a hand that moves the craft: looked at, with nothing to read."""
    setup = make.setup
    unit = setup.stabilised or (setup.stabilised is None and setup.craft.kind == "multirotor")  # none flies without
    tilts = ("tip", "lean") if unit else ()
    turns = ("swing",) if unit or setup.driving("gyro-gain") else ()
    make.add_stage("corrections", [make.numbered_step(key, "", [], (), ()) for key in (*tilts, *turns)])


def add_range(make: Maker) -> None:
    """The last for which the receiver alone has power."""
    make.add_stage("range", [make.numbered_step("range", "", [], _power_down(make), ())])


def _power_down(make: Maker) -> tuple[Move, ...]:
    make.home.reset(make.walk)
    make.walk.take_power()
    make.walk.switch_off()
    return make.walk.take_moves()


# -- the motor connected


def add_motor(make: Maker) -> None:
    """The motor with power: what stops it is measured first where the file does not say."""
    setup = make.setup
    if not setup.driving("motor"):
        return
    steps = [make.numbered_step(key, "", [], (), ()) for key in _keys_before(setup)]
    make.walk.switch_on()
    make.walk.power_receiver()
    steps.append(make.numbered_step("connected", "", [make.walk.look()], (), ()))
    measured = stop_is_measured(setup)
    if not measured and not turns_early(setup):
        steps.append(make.numbered_step("turns", "", [], (), ()))
    calm_modes = [mode for mode in items.mode_names(setup) if not (mode and setup.modes[mode].idle_up)]
    wish = f.both(in_mode(setup, calm_modes), NO_HOLD, NO_RESCUE, SPRUNG, LOW, f.Not(f.Predicate("rotor driven")))
    still = Item("still", "motor", formula=wish)
    for _, route in make.routes([(still, [wish])] if calm_modes else []):
        step = make.step_of(make.plan("still", "", [], route))
        steps += [step] if step is not None else []
    keys = [*(["turns"] if measured else []), *(["cuts"] if setup.intent.hold is not None else [])]
    keys += ["stops"] if setup.intent.stop is not None else []
    steps += [make.numbered_step(key, "", [], (), ()) for key in keys]
    steps[-1] = replace(steps[-1], back=(*steps[-1].back, *_power_down(make)))
    make.add_stage("motor", steps)


def _keys_before(setup: Setup) -> list[str]:
    """What is done by hand before the motor has power: leads put back, or the carburettor looked into."""
    if not setup.is_engine:
        return ["leads"] if leads_come_out(setup) else []
    return ["shut"] if setup.craft.motor_off is None else []


def add_first_hover(make: Maker) -> None:
    steps: list[CardStep] = [make.numbered_step("blades", "", [], (), ())]
    if make.setup.driving("motor"):
        steps.append(make.numbered_step("hover", "hover-throttle", [], (), ()))
    if make.setup.craft.rotor == "collective":
        steps.append(make.numbered_step("hover", "hover-collective", [], (), ()))
    make.add_stage("hover", steps)
