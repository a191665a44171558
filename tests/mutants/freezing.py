"""The judge of hold-freezes-controls, from the words of RULES.md: what lets go of the hold, all else the same."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import reduce

import numpy as np

from tests.oracle.formula import Compare, Condition, Formula, Is, ModeIs
from tests.oracle.meaning import World

from .grid import RECEIVER, VOLTS, Array, Choice, through
from .reach import Reach, States, Verdict
from .settled import Moment

STICKS = ("throttle", "aileron", "elevator", "rudder")


def hold_freezes_controls(reach: Reach) -> Verdict:
    """By its switches, from the memory that the held state leaves; where none of their places does, by any memory, and then by
    the sticks, knobs and sensors that the hold rests on too."""
    if "hold" not in reach.world.intent:
        return False
    for channel in reach.driving("collective", "aileron", "elevator", "rudder"):
        for choice in reach.choices:
            for moment, where in reach.flight:
                stiff = reach.called(moment, "hold") & ~reach.called(moment, "rescue") & here(reach, (moment, where))
                stiff = stiff & ~follows(reach, moment, channel, choice)
                if stiff.any() and (
                    switched(reach, moment, channel, choice, stiff)
                    or released_besides(reach, moment, channel, choice, stiff)
                ):
                    return True
    return False


def here(reach: Reach, state: States) -> Array:
    """Which states there are; those at power-up with the receiver off, which no array of theirs says."""
    moment, where = state
    off = [x == "off" for x in reach.grid.axes[RECEIVER]]
    return where & reach.grid.along(RECEIVER, off) if RECEIVER in moment.fixed else where


def follows(reach: Reach, moment: Moment, channel: str, choice: Choice) -> Array:
    """A stick that its lines read, no knob, and not one that only lets an override go."""
    lines = reach.world.channels[channel].lines.values()
    read = {term.source for line in lines for term in line.terms or () if term.source in STICKS}
    found = (moment.follows(channel, choice, stick) for stick in sorted(read))
    return reduce(np.logical_or, found, reach.grid.constant(False))


def switched(reach: Reach, moment: Moment, channel: str, choice: Choice, stiff: Array) -> bool:
    places = hold_places(reach, moment.next())
    return any(
        (stiff & ~reach.called(there, "hold") & follows(reach, there, channel, choice)).any() for there in places
    )


def hold_places(reach: Reach, moment: Moment) -> Iterator[Moment]:
    """The same step with the switches of the hold in every one of their places."""
    rests, _ = behind(reach.world, [reach.world.intent["hold"]])
    places: list[dict[str, str]] = [{}]
    for switch in (name for name in reach.world.switches if name in rests):
        places = [{**place, switch: word} for place in places for word in reach.world.switches[switch]]
    for place in places:
        yield moment.at(place)


def released_besides(reach: Reach, moment: Moment, channel: str, choice: Choice, stiff: Array) -> bool:
    """Another state, its memory and the hold's switches as they may be, what rests on nothing of the hold's the same."""
    world = reach.world
    rests, remembered = behind(world, [world.intent["hold"]])
    measured = [name for name in rests if name in world.analogs or name in world.sensors]
    if not measured and not any(world.conditions[name].remembers for name in remembered):
        return False
    for there in hold_places(reach, moment.next()):
        stiff = stiff & reach.called(there, "hold")  # no place of its switches lets go of it
    if not stiff.any():
        return False
    mine = [o.when for o in world.overrides if o.channel == channel] + world.formulas_of(None)
    mine += [world.lent] if world.lent is not None else []
    read, asked = behind(world, [*mine, *(world.intent[x] for x in ("hold", "rescue") if x in world.intent)])
    apart = [name for name in asked if behind(world, world.formulas_of(name))[0].isdisjoint(rests)]
    released = [beside(reach, moment, state, channel, choice, apart) for state in reach.flight]
    switches = [name for name in world.switches if name in rests]
    off, free = (joined(reach, (pair[n] for pair in released), switches) for n in (0, 1))
    heard = not any(name in world.sensors for name in read - rests)  # nothing else would be heard too, or not any more
    further = joined(reach, [free], axes_of(reach, measured, heard))
    return bool((stiff & np.where(off, free, further)).any())


def beside(
    reach: Reach, held: Moment, state: States, channel: str, choice: Choice, apart: Iterable[str]
) -> tuple[Array, Array]:
    """Where the hold is off in states of another memory, and where the channel follows there too; only beside those of `held`
    that have the same of what rests apart."""
    there, _ = state
    same = [np.asarray(held.conditions[name] == there.conditions[name]) for name in apart]
    off = reduce(np.logical_and, same, ~reach.called(there, "hold") & here(reach, state))
    return off, off & follows(reach, there, channel, choice)


def joined(reach: Reach, found: Iterable[Array], names: Iterable[str]) -> Array:
    """Where one of them holds with these controls anywhere."""
    axes = tuple(reach.grid.index[name] for name in names)
    anywhere = (np.any(each, axis=axes, keepdims=True) for each in found)
    return reduce(np.logical_or, anywhere, reach.grid.constant(False))


def axes_of(reach: Reach, names: Iterable[str], heard: bool) -> list[str]:
    """Of sticks, knobs and sensors: what they read, whether they are lost, and perhaps whether anything is heard."""
    found: dict[str, None] = {}
    for name in names:
        if name in reach.world.sensors:
            shared = reach.world.cell_factor(name) is not None
            found |= dict.fromkeys([*[RECEIVER] * heard, *([VOLTS, f"{name} lost"] if shared else [name])])
        else:
            found[name] = None
    return list(found)


def behind(world: World, formulas: Iterable[Formula]) -> tuple[set[str], set[str]]:
    """The controls that formulas rest on, and the conditions, through modes too."""
    controls: set[str] = set()
    conditions: set[str] = set()
    todo, modes = list(formulas), False
    while todo:
        for leaf in through(world, todo.pop()):
            if isinstance(leaf, Is | Compare):
                controls.add(leaf.name)
            elif isinstance(leaf, Condition):
                conditions.add(leaf.name)
            elif isinstance(leaf, ModeIs) and not modes:
                modes = True
                todo += world.formulas_of(None)
    return controls, conditions
