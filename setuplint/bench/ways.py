"""How a craft is led through its card: what can be disconnected, and what has to be measured before anything rests on it."""

from __future__ import annotations

from setuplint.setup.model import Setup


def leads_come_out(setup: Setup) -> bool:
    """Whether the motor can be disconnected while the receiver lives: not where it lives from the speed controller."""
    return not setup.is_engine and (setup.supply is None or setup.supply.kind != "regulator")


def stop_is_measured(setup: Setup) -> bool:
    """Whether the file says at which output the motor, or the rotor of an engine, stands still."""
    return (setup.craft.rotor_free if setup.is_engine else setup.craft.motor_off) is not None


def turns_early(setup: Setup) -> bool:
    """Whether what stops the motor is measured as soon as the receiver has power: the motor has it too, and nobody knows."""
    known = setup.is_engine or leads_come_out(setup) or stop_is_measured(setup)
    return bool(setup.driving("motor")) and not known
