"""The rows of `shape` for curves, channels and overrides."""

from __future__ import annotations

from typing import Any

from setuplint.setup.format_keys import (
    Key,
    choice_key,
    flag_key,
    formula_key,
    integer_key,
    list_key,
    name_key,
    names_key,
    number_key,
    pair_type,
    percent_key,
    positions_key,
    table_type,
    union_key,
)
from setuplint.setup.smoothings import format_meaning, format_words

CURVE = table_type(
    "Curve",
    "A curve; outside its points it keeps the end values.",
    {
        "points": list_key(
            pair_type(
                number_key(-100, 100, "% of the stick's or knob's travel", "input", example="0"),
                number_key(-150, 150, "% of the channel's travel", "output", example="0"),
                "a pair [input, output]",
            ),
            "2 to 33 pairs [input, output] in %, inputs from -100 to 100 and strictly rising, outputs from -150 to 150. Outside "
            "of them the end values are kept",
            example="[[-100, -100], [0, 16], [100, 100]]",
            what="a list of 2 to 33 pairs [input, output]",
            min_length=2,
            max_length=33,
        ),
        "smoothing": choice_key(
            " ".join(format_words()),
            f"how the transmitter joins the points. {format_meaning()}",
            "none",
            example='"monotone"',
            words="smoothings",
        ),
    },
    required="points",
)


def by_switch(title: str, low: int, high: int) -> Any:
    return table_type(
        title,
        "A number for each position of a switch.",
        {
            "switch": name_key("switch", "the switch whose position picks the number", example='"rates"'),
            "at": positions_key(
                number_key(low, high, "%", "the number in this position", example="80"),
                f"a number for every position of the switch, in %, each from {low} to {high}",
                "{ off = 80, on = 100 }",
            ),
        },
        required="switch at",
    )


RATE_BY_SWITCH = by_switch("RateBySwitch", -150, 150)
EXPO_BY_SWITCH = by_switch("ExpoBySwitch", -50, 100)
SAME = "as in the channel's own line"
DEMAND = "before ramp, reversal, travel, sub-trim and limits"


def _setting_key(by_switch: Any, limits: tuple[int, int], meaning: str, default: str, example: str) -> Key:
    """A percentage, or one for each position of a switch."""
    low, high = limits
    return union_key(
        number_key(low, high, "%", "the same in every position of the switches", example=example),
        by_switch,
        meaning=f"{meaning}. One number from {low} to {high}, or one for each position of a switch. Unit: %",
        default=default,
        example=example,
    )


def term_rows(of: str, default: str = "", other: str = "") -> dict[str, Key]:
    """The rows of a term. `default` is what an absent `from` means; `other` what any other absent key does, else each has its
    own default."""
    return {
        "from": union_key(
            percent_key("% of travel", "a fixed number, whatever the sticks do", example="42"),
            name_key("stick, knob or switch", "a stick, knob or switch", example='"throttle"'),
            meaning=f"what {of} reads: the name of a stick, knob or switch, or a fixed number from -150 to 150. Unit: % of "
            "travel",
            default=default,
            example='"throttle"',
        ),
        "rate": _setting_key(
            RATE_BY_SWITCH,
            (-150, 150),
            "how far the stick or knob reaches before expo and curve: at 60, full stick counts as 60 %",
            other or "100",
            "80",
        ),
        "expo": _setting_key(
            EXPO_BY_SWITCH,
            (-50, 100),
            "how much softer the stick or knob is around the middle: y = (1 - k)u + ku³, where k is this as a fraction; "
            "below 0 it is sharper",
            other or "0",
            "20",
        ),
        "curve": name_key(
            "curve",
            "the curve that the stick or knob goes through, after rate and expo; straight is none",
            other or "straight",
            example='"hover-soft"',
        ),
        "values": positions_key(
            percent_key("% of travel", "the output in this position", example="100"),
            "where `from` names a switch: the output in each of its positions, in % of travel, each from -150 to 150",
            "{ off = -100, on = 100 }",
            other,
        ),
    }


TERM = table_type("Term", "One more term of a channel, added to the others.", term_rows("the term"), required="from")


def line_rows(default: str, other: str = "") -> dict[str, Key]:
    """The rows of a channel's line, with what is where `from` is absent, and where another key is."""
    ramp = other or "0, at once"
    return term_rows("the channel", default, other) | {
        "mix": list_key(
            TERM,
            "at most eight further terms, each with a `from`, added to the main one",
            other or "none",
            example='[{ from = "rudder", rate = 5 }]',
            what="a list of at most eight tables",
            max_length=8,
        ),
        "ramp-up": number_key(
            0, 60, "s for the way from -100 to +100", "slows the output where it rises", ramp, example="2"
        ),
        "ramp-down": number_key(
            0, 60, "s for the way from +100 to -100", "slows the output where it falls", ramp, example="2"
        ),
    }


LINE = table_type(
    "Line", "What differs in one mode: a key that is absent stays as it is in the channel.", line_rows(SAME, SAME)
)
CHANNEL = table_type(
    "Channel",
    "An output of the receiver.",
    {
        "number": integer_key(
            1,
            32,
            "",
            "its number at the receiver, each once",
            "none: cards and failsafe call it by its name",
            example="3",
        ),
        "drives": choice_key(
            "motor collective aileron elevator rudder gyro-gain stabiliser other",
            "what hangs on it, and with it which rules look at it; several channels may drive the same",
            "other",
        ),
        **line_rows("none: what the channel puts out is not described"),
        "reversed": flag_key("changes the sign of the output, after ramps and before travel"),
        "travel": list_key(
            number_key(0, 150, "% of normal travel", "travel to one side", example="100"),
            "[down, up]: what the output is scaled by below and above the middle, in % of normal travel, each from 0 to 150",
            "[100, 100]",
            example="[100, 90]",
            what="a list of two numbers [down, up]",
            min_length=2,
            max_length=2,
        ),
        "sub-trim": number_key(-100, 100, "% of travel", "what is added to the output, after travel", "0", example="3"),
        "low": percent_key(
            "% of travel",
            "the least that the receiver puts out, whatever else is asked. Not above high",
            "-150",
            example="-100",
        ),
        "high": percent_key(
            "% of travel",
            "the most that the receiver puts out, whatever else is asked. Not below low",
            "150",
            example="110",
        ),
        "in": names_key(
            LINE,
            "what differs in a mode, by the mode's name: a key that is given replaces the channel's own, others stay",
            example='{ idle-up = { curve = "spool-flat" } }',
            what="a table of modes",
        ),
    },
)
OVERRIDE = table_type(
    "Override",
    "Replaces a channel's sum while its `when` holds, or limits it; the highest priority decides.",
    {
        "channel": name_key("channel", "the channel whose demand it replaces or limits", example='"motor"'),
        "value": percent_key(
            f"%, {DEMAND}",
            "what it demands of the channel in place of sticks, curves and mixes",
            "none: at-least or at-most stands in its place",
            example="-100",
        ),
        "at-least": percent_key(
            f"%, {DEMAND}",
            "the least that it lets through: sticks, curves and mixes go on. Not with value, not above at-most",
            "no least",
            example="40",
        ),
        "at-most": percent_key(
            f"%, {DEMAND}",
            "the most that it lets through: sticks, curves and mixes go on. Not with value, not below at-least",
            "no most",
            example="60",
        ),
        "when": formula_key("when it decides, if no other with a higher priority does"),
        "priority": number_key(
            -1_000_000,
            1_000_000,
            "",
            "the highest decides, of those of a channel whose `when` holds; equal ones are a conflict",
            "0",
            example="100",
        ),
    },
    required="channel when",
)
