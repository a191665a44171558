"""What a comparison says first: how far an output goes at most, what it is in the hover, and dangers; and what it says once."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest

import setuplint
from setuplint.comparison.changes import Comparison
from setuplint.comparison.furthest import turning_places
from setuplint.findings import SIGNALS
from setuplint.formats.change_words import ChangeWords
from setuplint.formats.comparison_document import headline
from setuplint.plain.evaluate import evaluate
from setuplint.plain.settings import reading_range
from setuplint.plain.state import Memory, State
from setuplint.setup import Setup

ROOT = Path(__file__).parents[2]
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
CURVE = "points = [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]\nsmoothing"


def compared(new: str, old: str = REFERENCE) -> Comparison:
    return setuplint.compare(setuplint.load_text(old, "old.toml"), setuplint.load_text(new, "new.toml"))


@pytest.mark.quick(2)
@pytest.mark.parametrize("smoothing", ["none", "monotone", "cardinal", "natural"])
@pytest.mark.parametrize(
    "points", ["[[-100, -100], [-40, -20], [0, 16], [50, 60], [100, 90]]", "[[-100, 0], [0, 30], [100, 20]]"]
)
def test_the_furthest_places_are_those_of_every_place(smoothing: str, points: str) -> None:
    """Held against the plain evaluator at every percent, between which there may be a little more."""
    new = REFERENCE.replace(CURVE, f"points = {points}\nsmoothing").replace('"monotone"', f'"{smoothing}"', 1)
    models = [setuplint.load_text(text).model for text in (REFERENCE, new)]
    (change,) = [each for each in compared(new).changes if each.subject == "motor"]
    by = {Fraction(n): moved(models, Fraction(n)) for n in range(-100, 101)}
    for told, most in ((change.rise, max(by.values())), (change.fall, min(by.values()))):
        if abs(most) < Fraction(1, 100):
            assert told is None
        else:
            assert told is not None
            assert told.now - told.before == moved(models, told.sticks["throttle"])
            assert -Fraction(1, 100) < abs(told.now - told.before) - abs(most) < Fraction(1, 2)
    assert change.hover is not None
    assert (change.hover.before, change.hover.now) == (16, 16 + moved(models, change.hover.sticks["throttle"]))


def moved(models: list[Setup], at: Fraction) -> Fraction:
    """How much further up the motor is now with the stick at a place, in the first mode."""
    found = []
    for model in models:
        full: dict[str, Fraction | str] = {
            name: reading_range(model, sensor)[1] for name, sensor in model.sensors.items()
        }
        state = State(
            {name: switch.positions[0] for name, switch in model.switches.items()},
            {**dict.fromkeys(model.sticks, Fraction(0)), "throttle": at},
            full,
        )
        found.append(evaluate(model, state, Memory()).outputs["motor"])
    assert None not in found
    return found[1] - found[0]  # type: ignore[operator]


def test_where_a_polynomial_turns() -> None:
    def height(x: Fraction) -> Fraction:
        return (x - 1) * (x - 2) * (x - 3) * (x - 4)

    found = list(turning_places(height, Fraction(0), Fraction(5)))
    assert [round(float(x), 5) for x in found] == [1.38197, 2.5, 3.61803]
    assert list(turning_places(lambda x: 3 * x, Fraction(-1), Fraction(1))) == []
    assert [round(x, 5) for x in turning_places(lambda x: x**2, Fraction(-1), Fraction(1))] == [0]


def told(new: str, old: str = REFERENCE) -> list[str]:
    """Each change in its words, without the bench case."""
    comparison = compared(new, old)
    texts = map(ChangeWords(comparison, setuplint.load_text(new).texts.values).text_of, comparison.changes)
    return [
        "; ".join([each.what, *(f"{label}: {text}" for label, text in each.details[:-1])]).replace("\xa0", " ")
        for each in texts
    ]


def test_what_is_the_same_at_the_middle_is_not_so_in_every_state() -> None:
    assert told(REFERENCE.replace("expo = 20", "expo = 40"))[0].endswith("where: aileron anywhere but at 0 %")
    mixed = REFERENCE.replace("expo = 20", 'expo = 20\nmix = [{ from = "rudder", rate = 5 }]')
    (change,) = told(mixed.replace("rate = 5", "rate = 9"), mixed)
    assert change.startswith(
        "roll in normal, idle-up: at least 4 points higher in places and at least 4 points lower in places; "
    )
    assert change.endswith("where: depending on aileron and rudder")
    shifted = told(mixed.replace("[channels.roll]", "[channels.roll]\nsub-trim = 5"), mixed)
    assert [each for each in shifted if "depending on" in each] == [], "that is so in every state"


def test_the_hover_and_the_furthest_are_told_with_their_places() -> None:
    (change,) = told(
        REFERENCE.replace("[-50, -14], [0, 16], [50, 46], [100, 100]]", "[-50, -24], [0, 16], [50, 60], [100, 90]]")
    )
    assert change == (
        "motor in normal: up to 14.06 points higher and up to 10.64 points lower; "
        "rise: +44.48 % (72.24 of 100, 1722.42 µs) before, +58.54 % (79.27 of 100, 1792.72 µs) now, with throttle at +48 %; "
        "fall: -22.47 % (38.76 of 100, 1387.65 µs) before, -33.11 % (33.44 of 100, 1334.45 µs) now, with throttle at -58 %; "
        "hover: +16 % (58 of 100, 1580 µs) as before, with throttle at 0 %; "
        "where: flight at normal, hold off, save released, throttle anywhere but at 0 %"
    )


def test_the_motor_comes_first_and_dangers_before_notices() -> None:
    new = (
        REFERENCE.replace("priority = 50", "priority = 150")
        .replace("expo = 20", "expo = 30")
        .replace("repeat = 5", "repeat = 7")
    )
    new = new.replace('when = "flight is normal"\nvoice', 'when = "flight is not idle-up-1"\nvoice')
    found = compared(new)
    kinds = [(each.kind, each.drives) for each in found.changes]
    assert kinds[0] == ("output", "motor")
    assert kinds.index(("mode", "")) < kinds.index(("output", "aileron")) < kinds.index(("written", ""))
    signals = [finding.signal for finding in found.gained]
    assert signals == sorted(signals, key=SIGNALS.index)


def test_a_mode_that_is_added_brings_no_empty_ramps() -> None:
    new = REFERENCE.replace(
        "[modes.normal]", '[modes.calm]\nwhen = "flight is idle-up-2"\nvoice = "calm"\n[modes.normal]'
    )
    assert [each for each in told(new) if "ramp" in each] == []
    slow = new.replace("in.idle-up = { curve =", "in.calm = { ramp-up = 1 }\nin.idle-up = { curve =", 1)
    assert [each for each in told(slow) if "ramp" in each] == [
        "channel motor: ramp-up in calm, s: not given before, 1 now"
    ]


RENAMED = {
    "[switches.hold]": ("[switches.halt]", "danger", "there is no switch “hold” (it is halt now)"),
    "[curves.pitch-wide]": ("[curves.wide]", "caution", "there is no curve “pitch-wide” (it is wide now)"),
    "[conditions.pack-low]": ("[conditions.low]", "caution", "there is no condition “pack-low” (it is low now)"),
}


@pytest.mark.parametrize("heading", RENAMED)
def test_a_part_renamed_and_its_users_not_is_one_line(heading: str) -> None:
    now, signal, said = RENAMED[heading]
    comparison = compared(REFERENCE.replace(heading, now))
    (finding,) = comparison.gained
    assert (finding.rule, finding.signal) == ("unknown-name", signal)
    assert finding.message.startswith(f"{said}; what rests on it was judged before, and is not any more: ")
    assert comparison.changes == ()
    assert headline(comparison).startswith("old.toml -> new.toml: the same behaviour, of what could be compared; ")


@pytest.mark.quick(2)
@pytest.mark.parametrize(
    ("old", "new", "open_", "silent"),
    [
        ("[channels.pitch]\nnumber = 6", '[channels.pitch]\nnumber = "six"', "channel pitch: number", "number"),
        ("[channels.pitch]\nnumber = 6", "[channels.pitch]\nnumber = six", "channel pitch: number", "number"),
        ("repeat = 5 ", "repeat = five ", "alarm land-now: repeat, s", "repeat"),
        ("[conditions.pack-low]", "[conditions.low]", "alarm land-now: sounds after, s", "sounds after"),
        ("seconds = 270", "seconds = x", "timer flight", "flight"),
        ("value = 55", "value = five", "channel motor", "motor"),
        ('-100\nwhen = "hold', '-100\nwhen = "hald', "channel motor", "motor"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_not_compared_and_not_zero(old: str, new: str, open_: str, silent: str) -> None:
    assert old in REFERENCE
    for pair in ((REFERENCE, REFERENCE.replace(old, new)), (REFERENCE.replace(old, new), REFERENCE)):
        found = compared(pair[1], pair[0])
        assert open_ in [each.subject for each in found.open]
        assert [each.subject for each in found.changes if re.search(rf"\b{silent}\b", each.subject)] == []


HELD = REFERENCE[REFERENCE.index("[overrides.held]") : REFERENCE.index("[overrides.rescue-power]")]
LOST = {
    "a merge left undone": REFERENCE.replace(HELD, f"<<<<<<< ours\n{HELD}=======\n{HELD}>>>>>>> theirs\n"),
    "a heading that may be any": REFERENCE.replace("[alarms.link-weak]", "["),
}


@pytest.mark.parametrize("kind", LOST)
def test_what_may_stand_in_what_is_lost_is_not_gone_and_one_line_says_what_that_costs(kind: str) -> None:
    found = compared(LOST[kind])
    assert found.changes == ()
    assert found.open
    assert [finding.rule for finding in found.gained if finding.signal == "danger"] == ["not-toml"]
    assert len(found.gained) <= 2, "the other may be a danger that waits for a key"
    back = compared(REFERENCE, LOST[kind])
    assert back.changes == ()
    assert not any(finding.signal == "danger" for finding in back.gained)


def test_which_sticks_are_lent_is_not_compared_where_that_cannot_be_read() -> None:
    """Nor said to be new, or the same."""
    lends = '[trainer]\nlent = "save is pulled"\nsticks = {}\n\n[alarms.link-weak]'
    one, other = (REFERENCE.replace("[alarms.link-weak]", lends.format(sticks)) for sticks in ('["aileron"]', "5"))
    for found in (compared(other), compared(REFERENCE, other), compared(one, other), compared(other, one)):
        assert found.changes == ()
        assert {"channel roll", "stick rudder (pupil)"} <= {each.subject for each in found.open}
        assert {"channel attitude", "channel tail-gain"}.isdisjoint(each.subject for each in found.open)
