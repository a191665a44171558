"""The rows of `shape` for sticks, knobs, switches and sensors, and for the conditions and modes made of them."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from setuplint.setup.format_keys import (
    NAME,
    any_key,
    choice_key,
    flag_key,
    formula_key,
    integer_key,
    list_key,
    number_key,
    place_key,
    table_type,
    voice_key,
)

STICK_ROWS = {
    "trim": number_key(
        0,
        100,
        "% of travel",
        "the most that the trim can add to the stick, either way, where a channel reads it",
        "none: rules about trim are not judged where a motor channel reads the stick",
        example="0",
    ),
    "place": place_key(),
}
STICK = table_type("Stick", "One of the four sticks.", STICK_ROWS)
THROTTLE = table_type(
    "Throttle",
    "The throttle stick.",
    {
        **STICK_ROWS,
        "rest": choice_key("bottom middle", "where it stands when it is let go; middle: it springs there", "bottom"),
    },
)
STICKS = table_type(
    "Sticks",
    "The sticks; they exist even when they are not written.",
    {
        name: any_key(
            THROTTLE if name == "throttle" else STICK,
            f"the {name} stick, -100 to +100 %; it rests at {'-100, or 0' if name == 'throttle' else '0'}",
            example="{ trim = 0 }",
        )
        for name in ("throttle", "aileron", "elevator", "rudder")
    },
)
KNOB = table_type(
    "Knob",
    "A knob or slider, -100 to +100 %, at rest in the middle; an empty table declares it.",
    {"place": place_key()},
)
SWITCH = table_type(
    "Switch",
    "A switch; it rests at its first position.",
    {
        "kind": choice_key(
            "momentary two-position three-position selector",
            "how many positions it has: 2 (or 3), 2, 3, or 2 to 12 of a selector. momentary springs back to its first position, "
            "with three (to be given) from both sides",
        ),
        "positions": list_key(
            Annotated[str, Field(pattern=NAME, json_schema_extra={"x-setuplint": {"what": "a word"}})],
            "its positions in their order, as formulas name them: different words, as many as its kind has. The first is rest",
            "released, pulled (momentary); off, on (two-position); up, middle, down (three-position); none (selector)",
            example='["off", "on"]',
            what="a list of different words",
            min_length=2,
            max_length=12,
        ),
        "place": place_key(),
    },
    required="kind",
)
SENSOR = table_type(
    "Sensor",
    "A sensor of the craft, heard by telemetry.",
    {
        "reads": choice_key(
            "pack-voltage cell-voltage receiver-voltage current charge-used rotor-speed temperature link-quality "
            "signal-strength",
            "what it reads, and with it the unit of its thresholds: pack-voltage, cell-voltage and "
            "receiver-voltage V, current A, charge-used mAh, rotor-speed turns a minute, temperature °C, link-quality %, "
            "signal-strength as the receiver gives it",
        ),
        "cells": integer_key(
            1, 24, "cells", "of pack-voltage: how many of the pack's cells it stands across", "the pack's", example="3"
        ),
        "shown": flag_key("it is on the transmitter's screen in flight; changes no output"),
    },
    required="reads",
)
CONDITION = table_type(
    "Condition",
    "A formula with a name, with time or memory where it has after, stays, until or toggles.",
    {
        "when": formula_key(
            "when it holds: switches, sticks, knobs, sensors, modes and other conditions", example='"pack < 21.6"'
        ),
        "after": number_key(
            0,
            3600,
            "s",
            "how long `when` must have held without a break before the condition is on",
            "0",
            example="1.5",
        ),
        "stays": number_key(
            0,
            3600,
            "s",
            "how long the condition lingers after `when` has ended. Not with until or toggles",
            "0",
            example="2",
        ),
        "until": formula_key(
            "latches the condition: once on, it stays on until this holds, which wins over `when`. Not with toggles",
            "not latched",
        ),
        "toggles": flag_key(
            "the condition changes over, on or off, each time `when` becomes true. Not with until or stays"
        ),
    },
    required="when",
)
MODE = table_type(
    "Mode",
    "A flight mode; the first whose `when` holds is flown, in the order in which they are written.",
    {
        "when": formula_key(
            "when it is flown, if no mode before it is. Only the last mode may go without",
            "always",
            example='"flight is normal"',
        ),
        "idle-up": flag_key("the motor stays on at low stick, on purpose", "true where aerobatic is true, else false"),
        "aerobatic": flag_key("it is flown inverted too: its curves are not judged as those of a hover"),
        "voice": voice_key("what the transmitter says when the mode is entered"),
    },
)
