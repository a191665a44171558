"""What carries the craft, and how a stick or knob flies it: in each mode, by each place of the switches in its line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import product

from setuplint.book.asking import Asking, both_scales, percent, plain
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import guard_formulas, line_goes_on, mode_is
from setuplint.checks.curve_shapes import FULL, UNCALLED, flown_modes, key_path
from setuplint.checks.moves import held_at
from setuplint.checks.spans import flown_rest, flown_spans, flying_stick, within
from setuplint.curves.flown import Flown, Span
from setuplint.curves.lines import LineCase
from setuplint.curves.shape import Extreme
from setuplint.dataclass import dataclass
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Curve, Line, Mode, Path, Term
from setuplint.setup.predicates import reason_no_channel

MOST_CASES = 100  # combinations of positions in one line


@dataclass(frozen=True, slots=True)
class Lift:
    """One way in which a stick or knob flies a channel in a mode: one place of the switches in its line, one smoothing."""

    mode: Mode | None
    stick: str  # the pupil's place of it, where that is read
    term: Term
    curve: Curve | None
    smoothing: str
    flown: Flown
    given: f.Formula  # it is flown so: the mode, the switches, the other sticks and knobs
    spans: tuple[Span, ...]  # what of the stick's travel some state flies so
    path: Path  # the key that gives the channel this curve

    @property
    def channel(self) -> Channel:
        return self.flown.channel

    @property
    def subject(self) -> str:
        return self.channel.name if self.curve is None else self.curve.name

    @property
    def what(self) -> str:
        if self.curve is None:
            return f"{self.stick} on {self.channel.name}, without a curve,"
        return f"curve {self.curve.name}"

    @property
    def smoothed(self) -> str:
        """Under which smoothing, where that is not known."""
        if self.curve is None:
            return ""
        return f", if it is smoothed as {self.smoothing}," if self.curve.smoothing == "unknown" else ""

    @property
    def place(self) -> Path:
        return self.path if self.curve is None else ("curves", self.curve.name, "points")

    def shown(self, x: Fraction) -> str:
        return self.worded(self.flown.output(x))

    def worded(self, value: Fraction) -> str:
        value = round(value, 2)
        return both_scales(value) if self.channel.drives == "motor" else percent(value)

    def at(self, x: Fraction) -> str:
        return f"{self.stick} {number_words(x, 1)}"

    def state(self, lo: Fraction, hi: Fraction) -> f.Formula:
        """It is flown so, its stick between these places."""
        stick = (f.Compare(self.stick, ">=", max(lo, -FULL)), f.Compare(self.stick, "<=", min(hi, FULL)))
        return f.both(self.given, *stick)

    def stick_for(self, value: Fraction) -> Fraction | None:
        """Where the stick flies it at an output, nearest to the middle; None: nowhere."""
        return self.flown.stick_for(value, self.spans)

    def slopes(self, lo: Fraction, hi: Fraction) -> tuple[Extreme, Extreme]:
        """The least and the greatest slope of what is flown between two places, each as (x, slope)."""
        ends = [self.flown.slopes(*span) for span in within(self.spans, lo, hi)]
        return min((end[0] for end in ends), key=lambda e: e[1]), max((end[1] for end in ends), key=lambda e: e[1])


# -- what is flown


def lifting_channels(ask: Asking) -> list[Channel]:
    """The described channels whose curve carries the craft: the collective, or the motor of a fixed-pitch craft."""
    drives = "collective" if ask.setup.craft.rotor == "collective" else "motor"
    channels = ask.driving(drives)
    unread = [c for c in channels if ask.unread_line(c)]
    if not unread and not any(c.described for c in channels):
        ask.not_judged(reason_no_channel(ask.setup, drives))
    return [c for c in channels if c.described]


def channel_lifts(
    ask: Asking, channels: Iterable[Channel], modes: Iterable[Mode | None], free: f.Formula
) -> Iterator[Lift]:
    """Every way in which the channels are flown by a stick or knob in these modes while `free` holds, other sticks and knobs
    at rest."""
    for channel, mode in product(channels, tuple(modes)):
        try:
            cases = ask.decider.lines(channel, mode.name if mode else None) or ()
            if len(cases) > MOST_CASES:
                raise OutOfBudget(f"its line hangs on more than {MOST_CASES} places of switches")
            for case in cases:
                lift = one_lift(ask, channel, mode, case, free)
                if lift is not None and lift.spans:
                    yield lift
        except OutOfBudget as end:
            ask.undecided.append((channel.name, str(end)))


def one_lift(ask: Asking, channel: Channel, mode: Mode | None, case: LineCase, free: f.Formula) -> Lift | None:
    """By the stick or knob in its line that flies it there; None where none moves it."""
    setup, shapes = ask.setup, dict(case.shapes)
    stick = flying_stick(setup, shapes)
    if stick is None:
        return None
    place, term = term_of(channel.line(mode.name if mode else None), stick)
    shape, others = shapes.pop(stick), case.constant
    switches = f.either(*(f.both(*guard_formulas(guards)) for guards in case.guards))
    given = f.both(mode_is(ask, mode.name if mode else None), free, line_goes_on(ask, channel.name), switches)
    for name, other in shapes.items():
        x = flown_rest(ask, channel, name, given)
        given, others = f.both(given, held_at({name: x})), others + other.value(x)
    curve = setup.curves[term.curve] if term.curve is not None else None
    smoothing = "none" if curve is None else curve.smoothing
    if smoothing == "unknown" and curve is not None:
        smoothing = next(choice for kind, name, choice in case.guards[0] if (kind, name) == ("smoothing", curve.name))
    path, spans = key_path(ask, channel, mode, place, "curve"), flown_spans(ask, channel, stick, given)
    return Lift(mode, stick, term, curve, smoothing, Flown(channel, others, shape), given, spans, path)


def term_of(line: Line, stick: str) -> tuple[int, Term]:
    """The term of a line that reads a stick or a pupil's place of it, and which one that is."""
    return next(
        (place, term)
        for place, term in enumerate(line.terms or ())
        if term.source == stick or (term.lending is not None and term.lending.stick == stick)
    )


def calm_lifts(ask: Asking) -> list[Lift]:
    """The subject of the hover rules: what carries the craft in the modes that are not aerobatic, nothing called."""
    channels = lifting_channels(ask)
    modes = [m for m in flown_modes(ask, UNCALLED) if m is None or not m.aerobatic] if channels else []
    return list(channel_lifts(ask, channels, modes, UNCALLED))


def number_words(value: Fraction, places: int) -> str:
    """+12.5, -3, 0."""
    short = round(value, places)
    return f"{plain(short):+g}" if short else "0"
