"""What a stabilised craft needs no more of the transmitter: mixes, trims, sub-trims."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from setuplint.book.asking import Asking, percent, plain
from setuplint.checks.corners import mode_is
from setuplint.checks.curve_shapes import key_path
from setuplint.checks.travels import FREE, OWN, STEERED, controls, flying_modes, in_flight, surely_follows
from setuplint.findings import Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Path

MIXED = ("collective", "aileron", "elevator")
STICKS = ("throttle", *STEERED)


def mix_left_on(ask: Asking) -> Iterator[Finding]:
    """A rudder that goes with the throttle in every mode, or a control that goes with another's stick beside its own: where no
    second channel does the same, the servos of one swashplate are not meant."""
    if not is_stabilised(ask):
        return
    for channel in (c for c in controls(ask, "rudder") if "throttle" in c.sticks):
        ways = [f.both(FREE, mode_is(ask, mode), f.Follows(channel.name, "throttle")) for mode in flying_modes(ask)]
        if ways and all(ask.possible(way, channel.name) for way in ways):
            yield from mixed_finding(ask, channel, "throttle", " in every mode")
    for channel in controls(ask, *MIXED):
        own = OWN[channel.drives]
        for stick in (s for s in STICKS if s != own and {s, own} <= {*channel.sticks}):
            both = in_flight(ask, f.Follows(channel.name, stick), f.Follows(channel.name, own))
            if not has_second(ask, channel, stick, own) and ask.possible(both, channel.name):
                yield from mixed_finding(ask, channel, stick, "")


def has_second(ask: Asking, channel: Channel, stick: str, own: str) -> bool:
    """Whether another channel follows the same two sticks; where that is not known it may."""
    others = [c for c in ask.setup.channels.values() if c is not channel and {stick, own} <= {*c.sticks}]
    surely = partial(surely_follows, ask)
    if any(surely(other, mode, stick) and surely(other, mode, own) for other in others for mode in flying_modes(ask)):
        return True
    ways = (in_flight(ask, f.Follows(other.name, stick), f.Follows(other.name, own)) for other in others)
    return not all(map(ask.proved_impossible, ways))


def mixed_finding(ask: Asking, channel: Channel, stick: str, where: str) -> Iterator[Finding]:
    case = ask.find(in_flight(ask, f.Follows(channel.name, stick)), channel.name)
    if case is None:
        return
    mode = ask.setup.modes[case.evaluation.mode] if case.evaluation.mode else None
    terms = channel.line(mode.name if mode else None).terms or ()
    place = next(n for n, t in enumerate(terms) if t.source == stick)
    yield ask.finding(
        f"{channel.name} {stick}",
        f"{channel.name} ({channel.drives}) follows the {stick} stick too{where}: a unit in the craft mixes that itself",
        key_path(ask, channel, mode, place, "from"),
        case,
        related=stabilised_places(ask),
        outputs={},
    )


def is_stabilised(ask: Asking) -> bool:
    """Whether it is known; what may say so, and cannot be read, is noted."""
    return bool(ask.setup.stabilised or (ask.setup.craft.stabilised is None and ask.driving("stabiliser")))


def stabilised_places(ask: Asking) -> list[Place]:
    """What says that the craft is stabilised."""
    if ask.setup.craft.stabilised:
        return [Place(("craft", "stabilised"), "a unit in the craft")]
    found = [c.name for c in ask.setup.driving("stabiliser")]
    return [Place(("channels", name, "drives"), "a unit in the craft") for name in found[:1]]


def trim_on_stabilised(ask: Asking) -> Iterator[Finding]:
    """A trim of a stick that a control reads, or a control's sub-trim: the unit takes it for a command."""
    most = ask.limit("sub-trim")
    if not is_stabilised(ask):
        return
    read = {stick for channel in controls(ask) for stick in channel.sticks}
    for name in STEERED:
        if name in read:
            ask.unread("sticks", name, "trim")
        trim = ask.setup.sticks[name].trim
        if trim and name in read:
            path: Path = ("sticks", name, "trim")
            yield ask.finding(
                name,
                f"the trim of the {name} stick can add {plain(trim):g} % either way: the unit takes it for a command and turns "
                "the craft",
                path,
                related=stabilised_places(ask),
                edit=Edit(path, "0"),
            )
    for channel in controls(ask, *STEERED):
        if abs(channel.sub_trim) > most:
            yield ask.finding(
                channel.name,
                f"{channel.name} ({channel.drives}) has a sub-trim of {percent(channel.sub_trim)}, beyond {plain(most):g} either "
                "way: the unit takes it for a command and turns the craft",
                ("channels", channel.name, "sub-trim"),
                related=stabilised_places(ask),
            )
