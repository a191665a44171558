"""A motor that comes too slowly through the hover of a fixed-pitch craft."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book import thin_air
from setuplint.book.asking import Asking, both_scales, plain, seconds
from setuplint.checks.corners import HAIR
from setuplint.checks.curve_shapes import flown_modes, key_path
from setuplint.checks.lifts import Lift, channel_lifts, lifting_channels
from setuplint.checks.spans import case_beside, drawn_in
from setuplint.checks.travels import FREE, WHOLE_TRAVEL
from setuplint.curves.flown import WHOLE
from setuplint.curves.servo import demand_for
from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.simulate import simulate
from setuplint.setup import formulas as f
from setuplint.setup.model import Path

NEAR = Fraction(1, 20)


def motor_lags(ask: Asking) -> Iterator[Finding]:
    """Fixed pitch: the motor's ramp keeps it from going through the hover in time."""
    around, longest = ask.limit("around"), ask.limit("longest")
    if ask.setup.craft.rotor != "fixed":
        return
    motors = [c for c in lifting_channels(ask) if any(line.ramp_up or line.ramp_down for line in c.every_line)]
    hover = ask.hover_throttle if motors else None
    if motors and hover is None:
        ask.no_hover_throttle()
    if hover is None:
        return
    reckoned = f" ({ask.shift.words})" if ask.shift else ""
    told: set[Path] = set()
    found = [
        (lag_seconds(lift, hover - around, hover + around), lift)
        for lift in channel_lifts(ask, motors, flown_modes(ask, FREE), FREE)
    ]
    low, high = (both_scales(round(end, 2)) for end in (hover - around, hover + around))
    for (time, ramp), lift in sorted(found, key=lambda item: -item[0][0]):
        path = ramp_path(ask, lift, ramp)
        seen = lag_shown(ask, lift, hover - around, hover + around) if time > longest and path not in told else None
        if seen is None:
            continue
        told.add(path)
        case, target = seen
        name = lift.channel.name
        yield ask.finding(
            name if path[2] == ramp else f"{name} {path[3]}",
            f"{name} takes {seconds(time)} from {low} to {high}, {plain(around):g} points either side of the hover{reckoned}: "
            f"{ramp} lets it go {plain(around * 2):g} points in no less; {plain(longest):g} s is the most",
            path,
            case,
            related=[Place(("craft", "hover-throttle"), "the hover"), *thin_air.places(ask.shift)],
            channels=[name],
            then=f"then {lift.at(target)}: {name} is there only after {seconds(time)}",
            edit=Edit(path, f"{float(Fraction(int(longest / time * ramp_of(lift, ramp) * 10), 10)):g}"),
        )


def ramp_of(lift: Lift, key: str) -> Fraction:
    line = lift.channel.line(lift.mode.name if lift.mode else None)
    return line.ramp_up if key == "ramp-up" else line.ramp_down


def lag_seconds(lift: Lift, low: Fraction, high: Fraction) -> tuple[Fraction, str]:
    """How many seconds the ramp takes from one output to a higher one, and which of its keys says so."""
    ends = demand_for(lift.channel, low), demand_for(lift.channel, high)
    if ends[0] is None or ends[1] is None:
        return Fraction(0), "ramp-up"
    key = "ramp-up" if ends[1] > ends[0] else "ramp-down"
    return abs(ends[1] - ends[0]) * ramp_of(lift, key) / WHOLE_TRAVEL, key


def ramp_path(ask: Asking, lift: Lift, key: str) -> Path:
    return key_path(ask, lift.channel, lift.mode, 0, key)


def lag_shown(ask: Asking, lift: Lift, low: Fraction, high: Fraction) -> tuple[Case, Fraction] | None:
    """A state under the hover, and where the stick goes from there, in which the timed simulator has the motor late too."""
    name, target = lift.channel.name, place_above(lift, high)
    case = None if target is None else case_below(ask, lift, low, target)
    if case is None or target is None:
        return None
    start = lift.stick_for(low)
    stick = case.state.sticks[lift.stick] if start is None else start
    before = replace(case.state, sticks={**case.state.sticks, lift.stick: stick})
    after = replace(case.state, sticks={**case.state.sticks, lift.stick: target})
    changes, longest = [(Fraction(0), after)], ask.limit("longest")
    *_, last = simulate(ask.as_decided(), before, case.evaluation.memory, changes, longest)
    value, goal = last.evaluation.outputs[name], last.target.outputs[name]
    return (case, target) if value is not None and goal is not None and value < high - HAIR <= goal else None


def place_above(lift: Lift, high: Fraction) -> Fraction | None:
    """Where the stick flies it at an output; of a mode that the stick chooses, where it enters that above it."""
    at = lift.stick_for(high)
    if at is not None or lift.spans == WHOLE:
        return at
    ends = [x for span in lift.spans for x in drawn_in(span) if lift.flown.output(x) >= high]
    return min(ends, key=lift.flown.output, default=None)


def case_below(ask: Asking, lift: Lift, low: Fraction, target: Fraction) -> Case | None:
    """A state in which it puts out so little; where another mode flies it there, one that the stick alone leaves for this."""
    name, start = lift.channel.name, lift.stick_for(low)
    if start is not None:
        return ask.find(lift.state(start - NEAR, start + NEAR), name)
    there = ask.find(lift.state(target - NEAR, target + NEAR), name)
    if there is None:
        return None
    below = (f.OutputCompare(name, ">=", low - NEAR), f.OutputCompare(name, "<=", low))
    return case_beside(ask, there, lift.stick, f.both(FREE, *below), name)
