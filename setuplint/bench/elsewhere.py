"""What reads the same by two set-ups and is another at the transmitter or the receiver: to be looked at again."""

from __future__ import annotations

from setuplint.bench import card_model
from setuplint.bench.card_model import Card, CardStep, Row
from setuplint.bench.walk import hold_switches
from setuplint.setup.model import Setup

SWASHED = ("collective", "aileron", "elevator")  # go through the swash mixer


def moved_channels(new: Setup, old: Setup) -> frozenset[str]:
    """Those at another place of the receiver, or through another swash mixer."""
    mixed = SWASHED if new.swash != old.swash else ()
    both = [(channel, old.channels[name]) for name, channel in new.channels.items() if name in old.channels]
    return frozenset(
        here.name for here, there in both
        if (here.number, here.drives) != (there.number, there.drives) or here.drives in mixed
    )  # fmt: skip


class PluggedElsewhere:
    """Channels of a card that are elsewhere now, controls of other kinds or in other places, and timers of other lengths."""

    def __init__(self, card: Card, old: Setup) -> None:
        new = card.setup
        self.channels = moved_channels(new, old)
        tables = ((new.switches, old.switches), (new.sticks, old.sticks), (new.sensors, old.sensors))
        self.controls = {name for here, there in tables for name in here.keys() & there if here[name] != there[name]}
        self.timers = {name for name in new.timers.keys() & old.timers if new.timers[name] != old.timers[name]}
        motors = {name for name in self.channels if new.channels[name].drives == "motor"}
        self.holds = bool(motors or hold_switches(new) & self.controls)
        rows = [row for step in card.steps if step.key == "receiver" for row in step.rows]
        self.still = rows[0].readings if rows else {}

    def touches(self, step: CardStep) -> bool:
        """Whether a box shows one of them."""
        if step.key == "hold" and self.holds:
            return True
        moved = {move.control for row in step.rows for move in row.moves}
        shown = {item.subject for item in step.shows if item.kind in ("counts", "stands")}
        return bool(moved & self.controls or shown & self.timers) or any(map(self._moves, step.rows))

    def _moves(self, row: Row) -> bool:
        """Whether one of the channels goes where it is not at the start, or where the receiver was taught."""
        mine = self.channels & row.readings.keys()
        taught = row.kind == card_model.GONE and bool(mine)
        return taught or any(row.readings[name] != self.still.get(name) for name in mine)
