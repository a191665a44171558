"""`setuplint soften`: five points for a hover and a slope, by themselves or for a curve of a setup."""

from __future__ import annotations

import argparse
from fractions import Fraction

from setuplint import library
from setuplint.cli import single_setup
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.curves.bends import slope_range, turns_against
from setuplint.curves.cubics import Point, curve
from setuplint.curves.soften import softened
from setuplint.dataclass import replace
from setuplint.findings import Edit
from setuplint.fixes import new_finding
from setuplint.formats.numbers import decimal, motor_output, of_hundred, percent
from setuplint.formats.patch import edited_text
from setuplint.formats.remedies import diff
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.interview.data import interview
from setuplint.interview.replies import reading
from setuplint.named_tuple import NamedTuple
from setuplint.pages.softening import NEAR, HoverPoint, hover_points, points_text
from setuplint.setup import smoothings
from setuplint.setup.model import Setup

AROUND = Fraction(20)  # percent of the stick on both sides of the hover: where the rule hover-too-sharp looks
FULL = (Fraction(-100), Fraction(100))


class SoftCurve(NamedTuple):
    """A curve that is asked for: the value and the slope at mid-stick, the ends, and how it is smoothed. `values` are the
    file's, for its pulses; `plain` is whether its values are what the channel puts out."""

    hover: Fraction
    slope: Fraction
    ends: tuple[Fraction, Fraction]
    smoothing: str
    values: dict[str, object]
    plain: bool = True


def run(args: argparse.Namespace) -> int:
    if args.of and args.write:
        raise Trouble("--of shows what --write does: one of the two")
    slope = _number("ratio", args.slope)
    hover = None if args.hover is None else _number("output", args.hover)
    place = args.write or args.of
    if place is None:
        if hover is None:
            raise Trouble("HOVER is needed: the output in a hover, as measured, or --of FILE CURVE whose setup has it")
        asked = SoftCurve(hover, slope, _ends(args, FULL), _smoothing(args, "none"), {})
        write_out(_text(asked, _points(asked), stdout_look()))
        return 0
    return _into_file(args, place, hover, slope)


def _into_file(args: argparse.Namespace, place: list[str], hover: Fraction | None, slope: Fraction) -> int:
    path, name = place
    if path == "-" and args.write:
        raise Trouble("standard input cannot be written to")
    given = single_setup.readable_setup(path)
    setup, document = given.setup.model, given.setup.document
    if name not in setup.curves:
        raise Trouble(f"{document.name} has no curve {name}{did_you_mean(name, list(setup.curves))}")
    old = setup.curves[name]
    at = _hover_point(setup, name, hover)
    ends = _ends(args, (old.points[0][1], old.points[-1][1]))
    same = at.gain == 1 and at.demand == at.output
    asked = SoftCurve(at.demand, slope / at.gain, ends, _smoothing(args, old.smoothing), document.values, same)
    points = _points(asked)
    after = edited_text(document, Edit(("curves", name, "points"), points_text(points)))
    if after is not None and asked.smoothing != old.smoothing:
        changed = library.load_text(after, document.name, given.beside).document
        after = edited_text(changed, Edit(("curves", name, "smoothing"), f'"{asked.smoothing}"'))
    if after is None:
        raise Trouble(
            f"{document.name}: the points of {name} do not fit into the text as it is written: enter them by hand"
        )
    _show(asked, points, document.text, after, document.name)
    if args.write:
        single_setup.write_back(path, given, after)
    _say_what_lint_says(given, after, written=bool(args.write))
    return 0


def _show(asked: SoftCurve, points: tuple[Point, ...], before: str, after: str, name: str) -> None:
    changes = diff(before, after, name) or f"{plain(name)} has these points already.\n"
    write_out(f"{_text(asked, points, stdout_look())}\n{changes}")


def _say_what_lint_says(given: single_setup.ReadableSetup, after: str, *, written: bool) -> None:
    name = given.setup.document.name
    if after == given.setup.document.text:
        return
    one = library.lint_text(given.data, name, beside=given.beside)
    two = library.lint_text(after, name, beside=given.beside)
    worse = new_finding(one, two)
    done = (
        f"Written: {plain(name)}. Enter the points at the transmitter too." if written else "To put it there: --write."
    )
    text = f"{done} A lint of it finds nothing new." if not worse else f"{done} Mind: {worse}."
    write_out("\n" + "\n".join(wrap(text, stdout_look().width)) + "\n")


def _hover_point(setup: Setup, name: str, hover: Fraction | None) -> HoverPoint:
    """Where the craft hovers on that curve: by its own measured output, or by the one that is given."""
    if hover is not None:
        craft = replace(setup.craft, hover_throttle=hover, hover_collective=hover, governed_above=None)
        setup = replace(setup, craft=craft)
    points = list(hover_points(setup, name))
    found = {(each.demand, each.gain): each for each in points}
    if not found:
        why = (
            "no motor or collective hovers on it"
            if hover is not None
            else "the setup does not say where it hovers: give HOVER"
        )
        raise Trouble(f"curve {name}: {why}")
    if len(found) > 1:
        raise Trouble(f"curve {name}: {_differing_words(points)}, so no points are right for all")
    return next(iter(found.values()))


def _differing_words(points: list[HoverPoint]) -> str:
    """What differs between places that hover on one curve."""
    channels = list(dict.fromkeys(each.channel for each in points))
    who = f"{len(channels)} channels hover" if len(channels) > 1 else f"{channels[0]} hovers"
    modes = "" if len(channels) > 1 else " in its modes"
    if len({each.demand for each in points}) > 1:
        return f"{who} on it at different values{modes}"
    gains = " and ".join(decimal(gain) for gain in sorted({each.gain for each in points}))
    return f"{who} on it with different slopes{modes} ({gains} times the curve's own)"


def _points(asked: SoftCurve) -> tuple[Point, ...]:
    """With as many decimals as are written. Trouble where there is no such curve."""
    try:
        points = softened(asked.hover, asked.slope, asked.ends, asked.smoothing)
    except ValueError as error:
        raise Trouble(str(error)) from None
    return tuple((x, round(y, 2)) for x, y in points)


def _text(asked: SoftCurve, points: tuple[Point, ...], look: Look) -> str:
    lines = [f"points = {points_text(points)}", f'smoothing = "{asked.smoothing}"', ""]
    lines += [f"  stick {percent(x) + ' (' + of_hundred(x) + ')':22} curve {_value(asked, y)}" for x, y in points]
    lines.append("")
    for kind in smoothings.possible(asked.smoothing):
        lines += wrap(_shape_words(points, kind), look.width)
    if not asked.plain:
        words = "These are values of the curve: what its channel does to them comes after, so they are no pulses."
        lines += wrap(words, look.width)
    return "\n".join(line.replace("\u00a0", " ") for line in lines) + "\n"


def _value(asked: SoftCurve, y: Fraction) -> str:
    return motor_output(asked.values, y) if asked.plain else f"{percent(y)} ({of_hundred(y)})"


def _shape_words(points: tuple[Point, ...], kind: str) -> str:
    """What a smoothing makes of them."""
    shape = curve(points, kind)
    (_, least), (_, greatest) = slope_range(shape, -AROUND, AROUND)
    at = slope_range(shape, -NEAR, NEAR)[1][1]
    where, steepest = slope_range(shape)[1]
    turn = turns_against(shape).amount
    sharp = " (sharper than a straight line, which has 1)" if greatest > 1 else ""
    back = f"it turns back by {decimal(turn)} points" if turn else "it never turns back"
    return (
        f"{kind}: {smoothings.sheet_words(kind)}. The slope at the hover is {decimal(at)}, within 20 of it {decimal(least)} to "
        f"{decimal(greatest)}{sharp}; the steepest is {decimal(steepest)}, with the stick at {percent(where)}; {back}."
    )


def _ends(args: argparse.Namespace, default: tuple[Fraction, Fraction]) -> tuple[Fraction, Fraction]:
    if args.ends is None:
        return default
    low, high = (_number("output", each) for each in args.ends)
    return low, high


def _smoothing(args: argparse.Namespace, default: str) -> str:
    kind = default if args.smoothing is None else args.smoothing
    if kind not in smoothings.format_words():
        raise Trouble(f"no smoothing is called {kind}{did_you_mean(kind, smoothings.format_words())}")
    return str(kind)


def _number(reader: str, text: str) -> Fraction:
    found = reading(interview(), reader, text)
    if not isinstance(found, Fraction):
        raise Trouble(f"{text!r} is not {interview().readers[reader]['says']}")
    return found
