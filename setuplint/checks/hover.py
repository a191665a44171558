"""The curve that lifts, around the hover: how sharp, how flat, how far from the middle, as it is flown (RULES.md, "Curves")."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from setuplint.book import thin_air
from setuplint.book.asking import Asking, percent, plain, told_apart
from setuplint.checks.curve_shapes import FULL
from setuplint.checks.lifts import Lift, calm_lifts, number_words
from setuplint.checks.spans import within
from setuplint.curves.bends import turns_against
from setuplint.curves.flown import Flown
from setuplint.curves.servo import demand_for
from setuplint.curves.shape import Extreme, Shape
from setuplint.curves.soften import softened
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.setup.model import Curve
from setuplint.setup.smoothings import possible

MOST_CASES = 100  # combinations of positions in one line
SOFT = tuple(Fraction(n, 10) for n in (6, 7, 5, 8, 4, 9))  # the remedy's share of a straight line's slope
ENTERED = 1  # decimals of a point as a remedy gives it
NEAR = Fraction(1, 20)  # a case is asked for with the stick this near to a place


@dataclass(frozen=True, slots=True)
class LiftHover:
    lift: Lift
    at: Fraction  # the stick

    def slopes(self, around: Fraction) -> tuple[Extreme, Extreme]:
        return self.lift.slopes(self.at - around, self.at + around)


# -- where it hovers


def hover_value(ask: Asking) -> Fraction | None:
    """What the channel that carries the craft puts out in a hover; noted where it is not known."""
    if ask.setup.craft.rotor == "collective":
        if ask.setup.craft.hover_collective is None:
            ask.missing("craft", "hover-collective")
        return ask.setup.craft.hover_collective
    value = ask.hover_throttle
    if value is None:
        ask.no_hover_throttle()
    return value


def lift_hovers(ask: Asking) -> list[LiftHover]:
    """Where the stick hovers, in each way of flying that can."""
    found: list[LiftHover] = []
    every = calm_lifts(ask)
    value = hover_value(ask) if every else None
    if value is None:
        return found
    said = ask.said("hover-out-of-reach")
    for lift in every:
        if lift.channel.name in said:
            continue
        at = lift.stick_for(value)
        if at is not None:
            found.append(LiftHover(lift, at))
        elif lift.flown.stick_for(value) is None:  # else another mode flies it there
            where = f" in mode {lift.mode.name}" if lift.mode else ""
            ask.not_judged(f"{lift.channel.name} never gives the hover's {percent(value)}{where}", lift.channel.name)
    return found


def case_of(ask: Asking, lift: Lift, x: Fraction) -> Case | None:
    """A state in which it is flown so near this place of the stick, nothing called."""
    return ask.find(lift.state(x - NEAR, x + NEAR), lift.subject)


# -- saying


def slope_words(slope: Fraction, limit: Fraction) -> str:
    """A slope, with as many decimals as it takes to tell it from the limit."""
    return f"{plain(told_apart(slope, limit, 2)):g}"


def stick_stretch(lift: Lift, x: Fraction, steepest: bool) -> str:
    """Two places of the stick near x, a point or two apart, and the outputs there, to reckon the slope from."""
    flown, near = lift.flown, round(x, 1)
    two = ((near - 1, near + 1), (near, near + 2), (near - 2, near))
    pairs = [pair for pair in two if pair in within(lift.spans, *pair)] or within(lift.spans, *two[0])

    def rise(pair: tuple[Fraction, Fraction]) -> Fraction:
        return abs(flown.output(pair[1]) - flown.output(pair[0]))

    a, b = (max if steepest else min)(pairs, key=rise)
    return f"from {lift.at(a)} to {number_words(b, 1)} {lift.channel.name} goes from {lift.shown(a)} to {lift.shown(b)}"


Judged = tuple[Fraction, Fraction, str]  # how bad it is, where on the stick, what is said


def worst_hover(
    ask: Asking, ways: Iterable[tuple[Lift, Judged | None]], hovering: list[LiftHover] | None = None
) -> Iterator[Finding]:
    """The worst way that can be flown, one for each curve; with a softer curve as its edit where `hovering` is given."""
    bad = sorted(((judged, lift) for lift, judged in ways if judged), key=lambda item: -item[0][0])
    told: set[tuple[bool, str]] = set()
    for (_, x, words), lift in bad:
        cause = lift.curve is None, lift.subject
        if cause in told:
            continue
        case = case_of(ask, lift, x)
        if case is None:
            continue
        told.add(cause)
        where = f" in mode {lift.mode.name}" if lift.mode else ""
        used = [] if lift.place == lift.path else [Place(lift.path, f"{lift.channel.name} uses it{where}")]
        shift = ask.shift if hovering and lift.channel.drives == "motor" else None
        yield ask.finding(
            lift.subject,
            f"{lift.what}{lift.smoothed} {words}",
            lift.place,
            case,
            related=[*used, *thin_air.places(shift)],
            channels=[lift.channel.name],
            edit=softer_curve(ask, lift, hovering) if hovering else None,
        )


def hover_words(ask: Asking, hover: LiftHover) -> str:
    return f"the hover ({hover_shown(ask, hover)}) is at {hover.lift.at(hover.at)}"


def hover_shown(ask: Asking, hover: LiftHover) -> str:
    """What it puts out in a hover, and how that was reckoned."""
    shift = ask.shift if hover.lift.channel.drives == "motor" else None
    return hover.lift.shown(hover.at) + (f"; {shift.words}" if shift else "")


# -- the rules


def hover_too_sharp(ask: Asking) -> Iterator[Finding]:
    """The greatest slope within so far of the hover is over that of a straight line."""
    limit, around = ask.limit("slope"), ask.limit("around")

    def judged(hover: LiftHover) -> Judged | None:
        _, (x, slope) = hover.slopes(around)
        if slope <= limit:
            return None
        return slope, x, (
            f"moves {hover.lift.channel.name} by {slope_words(slope, limit)} points a point of stick near the hover: "
            f"{stick_stretch(hover.lift, x, steepest=True)}; {hover_words(ask, hover)}, and a straight line moves it by 1"
        )  # fmt: skip

    found = lift_hovers(ask)
    yield from worst_hover(ask, [(h.lift, judged(h)) for h in found], found)


def curve_flat_at_hover(ask: Asking) -> Iterator[Finding]:
    """The least slope close to the hover is hardly any."""
    limit, around = ask.limit("slope"), ask.limit("around")

    def judged(hover: LiftHover) -> Judged | None:
        (x, slope), _ = hover.slopes(around)
        if slope >= limit:
            return None
        return -slope, x, (
            f"moves {hover.lift.channel.name} by only {slope_words(slope, limit)} points a point of stick at the hover: "
            f"{stick_stretch(hover.lift, x, steepest=False)}; {hover_words(ask, hover)}"
        )  # fmt: skip

    found = lift_hovers(ask)
    yield from worst_hover(ask, [(h.lift, judged(h)) for h in found], found)


def hover_off_centre(ask: Asking) -> Iterator[Finding]:
    """The hover needs the stick far from the middle."""
    limit = ask.limit("off-centre")

    def judged(hover: LiftHover) -> Judged | None:
        if abs(hover.at) <= limit:
            return None
        return abs(hover.at), hover.at, (
            f"hovers ({hover_shown(ask, hover)}) only at {hover.lift.at(hover.at)}, more than {plain(limit):g} from the "
            "middle"
        )  # fmt: skip

    found = lift_hovers(ask)
    yield from worst_hover(ask, [(h.lift, judged(h)) for h in found], found)


def curve_steep_outside(ask: Asking) -> Iterator[Finding]:
    """The slope anywhere is beyond what a hand can follow."""
    limit = ask.limit("slope")

    def judged(lift: Lift) -> Judged | None:
        _, (x, slope) = lift.slopes(-FULL, FULL)
        if slope <= limit:
            return None
        return slope, x, (
            f"moves {lift.channel.name} by {slope_words(slope, limit)} points a point of stick: "
            f"{stick_stretch(lift, x, steepest=True)}; {plain(limit):g} is steep"
        )  # fmt: skip

    yield from worst_hover(ask, [(lift, judged(lift)) for lift in calm_lifts(ask)])


# -- the remedy


def softer_curve(ask: Asking, lift: Lift, hovering: list[LiftHover]) -> Edit | None:
    """The lift's curve made soft: its ends kept, the hover at mid-stick. None where that would not mend it, or would do
    harm wherever else the curve is used."""
    curve, value = lift.curve, hover_value(ask)
    demand = None if value is None else demand_for(lift.channel, value)
    if curve is None or demand is None or used_otherwise(ask, curve):
        return None
    ends = curve.points[0][1], curve.points[-1][1]
    users = [h.lift for h in hovering if h.lift.curve is curve]
    straight = abs(ends[1] - ends[0]) / (2 * FULL)
    for soft in SOFT:
        try:
            points = softened(demand - lift.flown.constant, soft * straight, ends, curve.smoothing)
        except ValueError:
            continue
        entered = tuple((x, round(y, ENTERED)) for x, y in points)
        if all(softened_edit(ask, user, entered) for user in users):
            pairs = ", ".join(f"[{plain(x):g}, {plain(y):g}]" for x, y in entered)
            return Edit(("curves", curve.name, "points"), f"[{pairs}]")
    return None


def used_otherwise(ask: Asking, curve: Curve) -> bool:
    """Something that is no subject of these rules uses the curve too."""
    drives = "collective" if ask.setup.craft.rotor == "collective" else "motor"
    for channel in ask.setup.channels.values():
        for name, line in ((None, channel.own), *channel.lines.items()):
            aerobatic = name is not None and ask.setup.modes[name].aerobatic
            if any(t.curve == curve.name for t in line.terms or ()) and (channel.drives != drives or aerobatic):
                return True
    return False


def softened_edit(ask: Asking, lift: Lift, points: tuple[tuple[Fraction, Fraction], ...]) -> bool:
    """With these points none of the hover rules speaks, nothing turns back, and trim does not wake the motor."""
    value = hover_value(ask)
    assert lift.curve is not None
    assert value is not None
    old = lift.flown

    def limit(rule: str, name: str) -> Fraction:
        return ask.limit(name, rule)

    for kind in possible(lift.curve.smoothing):
        new = Flown(lift.channel, old.constant, Shape.of(points, kind, old.shape.rate, old.shape.expo))
        soft = replace(lift, flown=new)
        at = soft.stick_for(value)
        if at is None or abs(at) > limit("hover-off-centre", "off-centre"):
            return False
        hover = LiftHover(soft, at)
        good = (
            hover.slopes(limit("hover-too-sharp", "around"))[1][1] <= limit("hover-too-sharp", "slope")
            and hover.slopes(limit("curve-flat-at-hover", "around"))[0][1] >= limit("curve-flat-at-hover", "slope")
            and new.slopes(-FULL, FULL)[1][1] <= limit("curve-steep-outside", "slope")
            and not turns_against(new.shape).amount
        )
        if not good or curve_users(ask, lift, old, new):
            return False
    return True


def curve_users(ask: Asking, lift: Lift, old: Flown, new: Flown) -> bool:
    """A motor that trim, with the stick at the bottom, does not start under the old curve starts under the new."""
    off, trim = ask.setup.craft.rotor_free, ask.setup.sticks[lift.stick].trim
    if lift.channel.drives != "motor" or off is None or not trim:
        return False
    trimmed = min(trim - FULL, FULL)
    return old.output(trimmed) <= off < new.output(trimmed)
