"""The first of a sheet: what stops the motor, and all that it needs to do so."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction

from setuplint.formats.numbers import of_hundred, percent
from setuplint.plain.channel_values import output
from setuplint.setup import formulas as f
from setuplint.setup.dependencies import atoms_behind
from setuplint.setup.model import Channel, Mode, Override, Setup

SURELY_OFF = Fraction(-100)  # where motor-off is not given: no speed controller drives a motor there


def stop_title(setup: Setup) -> str:
    return f"What stops the {'rotor' if setup.is_engine else 'motor'}, first of all"


def stopping_overrides(setup: Setup) -> list[Override]:
    """Those while which decide no rotor is driven. Where nobody has measured motor-off: those that are the lowest of their
    channel's and go by what calls the hold or the stop, or are at the very end."""
    of_motors = {channel.name: channel for channel in setup.driving("motor")}
    highest = {o.name: _most(of_motors[o.channel], o) for o in setup.overrides.values() if o.channel in of_motors}
    still, lowest = _still_at(setup), dict[str, Fraction]()
    for name, most in highest.items():
        if most is not None:
            channel = setup.overrides[name].channel
            lowest[channel] = min(most, lowest.get(channel, most))
    called = {atom for formula in _calls(setup) for atom in f.atoms(formula)}

    def stops(override: Override) -> bool:
        most = highest.get(override.name)
        if most is None:
            return False
        if still is not None:
            return most <= still
        calls = most == lowest[override.channel] and not called.isdisjoint(f.atoms(override.when))
        return most <= SURELY_OFF or calls

    return list(filter(stops, setup.overrides.values()))


def _still_at(setup: Setup) -> Fraction | None:
    """The highest output at which no rotor is driven."""
    return setup.craft.motor_off if setup.craft.rotor_free is None else setup.craft.rotor_free


def _calls(setup: Setup) -> list[f.Formula]:
    return [formula for formula in (setup.intent.hold, setup.intent.stop) if formula is not None]


def _most(channel: Channel, override: Override) -> Fraction | None:
    """The highest output that it lets through."""
    most = override.value if not override.limits else override.at_least if channel.reversed else override.at_most
    return None if most is None else output(channel, most)


def stopping_modes(setup: Setup) -> Iterator[tuple[Mode, str]]:
    """The modes in which a motor stands still whatever the stick does, with what it then reads."""
    still = _still_at(setup)
    for mode in setup.modes.values():
        held = {channel.name: _fixed(channel, mode.name) for channel in setup.driving("motor")}
        if held and all(at is not None and at <= (SURELY_OFF if still is None else still) for at in held.values()):
            yield (
                mode,
                ", ".join(f"{name} {percent(at)} ({of_hundred(at)})" for name, at in held.items() if at is not None),
            )


def _fixed(channel: Channel, mode: str) -> Fraction | None:
    """What a channel puts out in a mode where no control moves it."""
    terms = channel.line(mode).terms
    numbers = [term.source for term in terms or () if isinstance(term.source, Fraction)]
    return output(channel, sum(numbers, Fraction(0))) if terms and len(numbers) == len(terms) else None


def read_parts(setup: Setup, formulas: Iterable[f.Formula | None]) -> list[str]:
    """The controls and conditions that formulas read, also through conditions and modes, in the order in which they are met."""
    found = dict[str, None]()
    for atom in atoms_behind(setup, formulas, until=True, modes=True):
        match atom:
            case f.SwitchIs(name, _) | f.Compare(name, _, _) | f.Lost(name) | f.Holds(name):
                found[name] = None
    return list(found)


def stop_notes(setup: Setup, words: Callable[[f.Formula | None], str]) -> Iterator[str]:
    """What to know before it is entered."""
    if setup.intent.hold is not None:
        yield f"The hold is called by: {words(setup.intent.hold)}."
    if not stopping_overrides(setup) and not any(stopping_modes(setup)):
        yield "NOTHING IN THE FILE STOPS IT whatever the sticks do: no override and no mode does. Mend the file first."
    elif _still_at(setup) is None:
        yield "The file has no motor-off: whether these outputs stop the motor, only the bench card shows."
    yield "Enter it before anything else, and read it back before any curve."
