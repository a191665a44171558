"""The format (FORMAT.md) as typed models, one row a key: what an editor shows, and what a file is checked against.

The models only check: exact numbers are taken from the text. `schema` makes a JSON Schema of them, and the data by
which `check` checks a file.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Any

from pydantic import Field

from setuplint.setup.kinds import (
    NAME,
    Key,
    by_name,
    by_position,
    each,
    either,
    flag,
    formula,
    key,
    listed,
    name,
    num,
    pair,
    percent,
    place,
    table,
    text,
    voice,
    whole,
    word,
)

PULSE = table(
    "Pulse",
    "The pulse of an output.",
    {
        "centre": num(500, 2500, "µs", "pulse at an output of 0 %", "1500", example="1500"),
        "per-percent": num(0.1, 20, "µs a percent", "what one percent of output adds to it", "5", example="5"),
    },
)
CRAFT = table(
    "Craft",
    "The craft, and what was measured on it.",
    {
        "name": text("what reports print", "the file's name", example='"Wagtail 470"', min_length=1, max_length=60),
        "kind": word("helicopter multirotor", "picks the default of rotor; changes no output", "helicopter"),
        "rotor": word(
            "collective fixed",
            "what carries the craft: collective pitch, or rotor speed alone",
            "collective on a helicopter, fixed on a multirotor",
        ),
        "radio": text(
            "a name for the transmitter: set-ups with the same one are compared with each other", example='"blue"'
        ),
        "motor-off": percent(
            "% of the motor channel's output",
            "at or below this output the motor stays stopped, tried on the bench",
            "none: what rests on it is not judged",
            example="-95",
        ),
        "rotor-free": percent(
            "% of the motor channel's output",
            "at or below this output the rotor is not driven, though an engine may idle; at least motor-off",
            "motor-off",
            example="-70",
        ),
        "hover-throttle": percent(
            "% of the motor channel's output", "the motor channel's output in a steady hover, as measured", example="24"
        ),
        "hover-collective": percent(
            "% of the collective channel's output",
            "output of the collective channel in a steady hover, as measured; not with rotor = fixed",
            example="30",
        ),
        "soft-start": flag("from a stop, the speed controller takes 2 s or more to full speed", "not known"),
        "governed-above": percent(
            "% of the motor channel's output",
            "at and above it a governor holds the rotor's speed; above rotor-free",
            "no governor",
            example="20",
        ),
        "arms-when-stopped": flag(
            "the speed controller arms only at motor-off or below, tried on the bench", "not known"
        ),
        "hover-measured-at-m": num(
            -500,
            9000,
            "m above the sea",
            "where hover-* were measured; with [field], hover-throttle is reckoned for the air there",
            example="240",
        ),
        "pulse": key(PULSE, "the pulse of an output", example="{ centre = 1500, per-percent = 5 }"),
    },
)
BATTERY = table(
    "Battery",
    "The flight pack.",
    {
        "chemistry": word("lipo lihv li-ion life", "picks the floor of a cell", "none: floors are not judged"),
        "cells": whole(1, 24, "cells in series", "none: pack voltages are not judged", example="6"),
        "capacity-mah": num(1, 1_000_000, "mAh", "capacity", example="2600"),
        "resistance-mohm": num(0, 10_000, "milliohm", "resistance of the whole pack, warm", example="21"),
        "hover-current-a": num(0, 1000, "A", "current in a steady hover", example="24"),
        "peak-current-a": num(0, 1000, "A", "greatest current in flight", example="60"),
    },
)
STICK = table(
    "Stick",
    "One of the four sticks.",
    {
        "trim": num(
            0,
            100,
            "% of travel",
            "what the trim can add either way",
            "none: rules about trim are not judged",
            example="0",
        ),
        "place": place(),
    },
)
STICKS = table(
    "Sticks",
    "The sticks; they exist even when they are not written.",
    {
        name: key(STICK, f"the {name} stick", example="{ trim = 0 }")
        for name in ("throttle", "aileron", "elevator", "rudder")
    },
)
KNOB = table("Knob", "A knob or slider; an empty table declares it.", {"place": place()})
SWITCH = table(
    "Switch",
    "A switch; it rests at its first position.",
    {
        "kind": word(
            "momentary two-position three-position selector",
            "momentary springs back to its first position; selector has 2 to 12 positions",
        ),
        "positions": listed(
            Annotated[str, Field(pattern=NAME, json_schema_extra={"x-setuplint": {"what": "a word"}})],
            "its positions, the first is rest",
            "momentary: released, pulled; two-position: off, on; three-position: up, middle, down",
            example='["off", "on"]',
            what="a list of different words",
            min_length=2,
            max_length=12,
        ),
        "place": place(),
    },
    required="kind",
)
SENSOR = table(
    "Sensor",
    "A sensor of the craft, heard by telemetry.",
    {
        "reads": word(
            "pack-voltage cell-voltage receiver-voltage current charge-used rotor-speed temperature link-quality "
            "signal-strength",
            "what it reads, hence its range",
        ),
        "shown": flag("it is on the transmitter's screen in flight"),
    },
    required="reads",
)
CONDITION = table(
    "Condition",
    "A formula with a name, with time or memory where it has after, stays, until or toggles.",
    {
        "when": formula("when it holds", example='"pack < 21.6"'),
        "after": num(0, 3600, "s", "`when` must have held for this long without a break", "0", example="1.5"),
        "stays": num(0, 3600, "s", "it lingers for this long; not with until or toggles", "0", example="2"),
        "until": formula("it is latched until this holds; not with toggles"),
        "toggles": flag("it changes over each time `when` becomes true"),
    },
    required="when",
)
MODE = table(
    "Mode",
    "A flight mode; the first whose `when` holds is flown, in the order in which they are written.",
    {
        "when": formula("when it is flown; the last mode alone may go without", "always", example='"flight is normal"'),
        "idle-up": flag("the motor stays on at low stick, on purpose", "as aerobatic"),
        "aerobatic": flag("it is flown inverted too"),
        "voice": voice("spoken when the mode is entered"),
    },
)
CURVE = table(
    "Curve",
    "A curve; outside its points it keeps the end values.",
    {
        "points": listed(
            pair(
                num(-100, 100, "% of the input", "input", example="0"),
                num(-150, 150, "% of output", "output", example="0"),
                "a pair [input, output]",
            ),
            "pairs of input and output, inputs strictly rising",
            example="[[-100, -100], [0, 24], [100, 100]]",
            what="a list of 2 to 33 pairs [input, output]",
            min_length=2,
            max_length=33,
        ),
        "smoothing": word(
            "none monotone cardinal natural unknown",
            "none: straight lines; monotone: Fritsch-Butland 1984; cardinal: slopes through the neighbours; natural: "
            "spline without end curvature; unknown: any of the last three",
            "none",
            example='"monotone"',
        ),
    },
    required="points",
)


def by_switch(title: str, low: int, high: int) -> Any:
    return table(
        title,
        "A number for each position of a switch.",
        {
            "switch": name("switch", "the switch it hangs on", example='"rates"'),
            "at": by_position(
                num(low, high, "%", "number in this position", example="80"),
                "a number for every position of the switch",
                "{ off = 80, on = 100 }",
            ),
        },
        required="switch at",
    )


RATE_BY_SWITCH = by_switch("RateBySwitch", -150, 150)
EXPO_BY_SWITCH = by_switch("ExpoBySwitch", -50, 100)
TERM_ROWS: dict[str, Key] = {
    "from": either(
        percent("%", "a fixed number", example="42"),
        name("stick, knob or switch", "a stick, knob or switch", example='"throttle"'),
        meaning="what is read: a stick, knob or switch, or a fixed number in %",
        default="none: not described",
        example='"throttle"',
    ),
    "rate": either(
        percent("%", "for every position", example="80"),
        RATE_BY_SWITCH,
        meaning="how much of the stick's travel is used, in %; or by the position of a switch",
        default="100",
        example="80",
    ),
    "expo": either(
        num(-50, 100, "%", "for every position", example="20"),
        EXPO_BY_SWITCH,
        meaning="softening around the middle, in %; or by the position of a switch",
        default="0",
        example="20",
    ),
    "curve": name("curve", "a curve's name, or straight", "straight", example='"hover-soft"'),
    "values": by_position(
        percent("%", "output in this position", example="100"),
        "the output in every position of the switch that `from` names",
        "{ off = -100, on = 100 }",
    ),
}
TERM = table("Term", "One more term of a channel, added to the others.", TERM_ROWS, required="from")
LINE_ROWS: dict[str, Key] = TERM_ROWS | {
    "mix": listed(
        TERM,
        "further terms, added",
        "none",
        example='[{ from = "rudder", rate = 5 }]',
        what="a list of at most eight tables",
        max_length=8,
    ),
    "ramp-up": num(0, 60, "s from -100 to +100", "slows a rising output", "0, at once", example="2"),
    "ramp-down": num(0, 60, "s from +100 to -100", "slows a falling output", "0, at once", example="2"),
}
LINE = table("Line", "What differs in one mode: a key that is absent stays as it is in the channel.", LINE_ROWS)
CHANNEL = table(
    "Channel",
    "An output of the receiver.",
    {
        "number": whole(1, 32, "its number at the receiver", "none: it is called by its name", example="3"),
        "drives": word(
            "motor collective aileron elevator rudder gyro-gain stabiliser other", "what hangs on it", "other"
        ),
        **LINE_ROWS,
        "reversed": flag("changes the sign"),
        "travel": listed(
            num(0, 150, "%", "travel to one side", example="100"),
            "[down, up]: scales the negative and the positive side, in %",
            "[100, 100]",
            example="[100, 90]",
            what="a list of two numbers [down, up]",
            min_length=2,
            max_length=2,
        ),
        "sub-trim": num(-100, 100, "%", "added to the output", "0", example="3"),
        "low": percent("%", "least output, not above high", "-150", example="-100"),
        "high": percent("%", "greatest output, not below low", "150", example="110"),
        "in": by_name(
            LINE,
            "what differs in a mode, by the mode's name",
            example='{ idle-up = { curve = "spool-flat" } }',
            what="a table of modes",
        ),
    },
)
OVERRIDE = table(
    "Override",
    "Replaces a channel's sum while its `when` holds; the highest priority decides.",
    {
        "channel": name("channel", "the channel it acts on", example='"motor"'),
        "value": percent("%, before ramp, reversal, travel, sub-trim and limits", "what it demands", example="-100"),
        "when": formula("when it acts"),
        "priority": num(-1_000_000, 1_000_000, "any unit", "the highest decides", "0", example="100"),
    },
    required="channel value when",
)
ALARM = table(
    "Alarm",
    "Sounds while its `when` holds.",
    {
        "when": formula("when it sounds", example='"pack-low"'),
        "voice": voice("spoken"),
        "tone": flag("gives a tone"),
        "vibrate": flag("shakes the transmitter"),
        "repeat": num(0, 3600, "s", "between repeats; 0 sounds once", "0", example="5"),
    },
    required="when",
)
TIMER = table(
    "Timer",
    "Counts while `runs` holds; only power-up resets it.",
    {
        "seconds": num(1, 86_400, "s", "what it counts", example="270"),
        "runs": formula("when it counts", "always", example='"not hold is on"'),
        "voice": voice("spoken at the end"),
        "tone": flag("a tone at the end"),
        "vibrate": flag("shakes the transmitter at the end"),
    },
    required="seconds",
)
FIELD = table(
    "Field", "The flying field.", {"elevation-m": num(-500, 9000, "m", "above the sea", example="240")}, "elevation-m"
)
SWASH = table(
    "Swash",
    "The swashplate, where the transmitter mixes it.",
    {
        "servos": word("one two-90 three-120 three-135 three-140 four-90", "the servos and the angle between them"),
        "collective": percent("% of servo travel at full stick", "share of collective", example="60"),
        "cyclic": percent("% of servo travel at full stick", "share of aileron and elevator", example="55"),
        "ring": num(1, 150, "%", "the stick circle that cyclic is held to", "the whole square", example="100"),
    },
    required="servos",
)
START = table(
    "Start",
    "What must hold at power-up.",
    {"requires": formula("must hold before the transmitter transmits", "every state is admitted")},
)
BOUND = table(
    "Bound",
    "What a channel must put out: at-least, at-most or both, or value alone.",
    {
        "channel": name("channel", "the channel", example='"attitude"'),
        "at-least": percent("% of output", "at least this", example="40"),
        "at-most": percent("% of output", "at most this", example="-50"),
        "value": percent("% of output", "this, within one point", example="100"),
    },
    required="channel",
)
BOUND_EXAMPLE = '{ channel = "attitude", at-most = -50 }'
INTENT = table(
    "Intent",
    "What the pilot means, apart from how it is wired.",
    {
        "hold": formula("when it holds the rotor must not be driven"),
        "stop": formula("when it holds the motor must not run", example='"cut is on"'),
        "rescue": formula("when it holds the pilot asks to be saved", example='"panic is pulled"'),
        "level": key(BOUND, "what tells the stabiliser to level the craft", example=BOUND_EXAMPLE),
        "lift": either(
            word("unit", "the stabiliser moves the collective itself"),
            BOUND,
            meaning="what carries the craft in a rescue; unit: the stabiliser moves the collective itself",
            example='"unit"',
        ),
    },
)
CLAIM_EXAMPLE = '"hold called and motor runs"'
CLAIM = table(
    "Claim",
    "A guarantee of the pilot's or the club's, proved like any rule: exactly one of never and always.",
    {
        "never": formula("must hold in no state; may ask for outputs and predicates too", example=CLAIM_EXAMPLE),
        "always": formula("must hold in every state; may ask for outputs and predicates too", example=CLAIM_EXAMPLE),
        "because": text("why", example='"club rule"'),
    },
)
WAIVER = table(
    "Waiver",
    "A finding that is known and accepted.",
    {
        "rule": text("the rule's name", example='"mode-jump"', min_length=1),
        "on": listed(str, "its subjects", "every subject", example='["idle-up"]', what="a list of texts"),
        "reason": text("why it is accepted", example='"the soft start handles it"', min_length=1),
        "until": key(datetime.date, "last day on which it holds", "no end", example="2027-04-01"),
    },
    required="rule reason",
)
FILE = table(
    "Setup",
    "One set-up of a radio-controlled craft.",
    {
        "format": whole(1, 1, "version of the format", example="1"),
        "extends": text("file with shared parts, a relative path inside the repository", example='"club-radio.toml"'),
        "craft": key(CRAFT, "the craft, and what was measured on it", example="[craft]"),
        "battery": key(BATTERY, "the flight pack", example="[battery]"),
        "sticks": key(STICKS, "the sticks", example="[sticks.throttle]"),
        "knobs": each(KNOB, "knobs and sliders", "[knobs.gain]"),
        "switches": each(SWITCH, "switches", "[switches.hold]"),
        "sensors": each(SENSOR, "sensors", "[sensors.pack]"),
        "conditions": each(CONDITION, "formulas with names", "[conditions.pack-low]"),
        "modes": each(MODE, "flight modes, the first whose `when` holds is flown", "[modes.normal]"),
        "curves": each(CURVE, "curves", "[curves.hover-soft]"),
        "channels": each(CHANNEL, "outputs of the receiver", "[channels.motor]"),
        "overrides": each(OVERRIDE, "what replaces a channel's own line", "[overrides.held]"),
        "alarms": each(ALARM, "alarms", "[alarms.land-now]"),
        "failsafe": by_name(
            either(
                percent("% of output", "this output", example="-100"),
                word("keep unit none", "keeps the last; unit: the stabiliser takes over; none: no pulses"),
                meaning="what the receiver puts out when the link is gone",
                example="-100",
            ),
            "what the receiver puts out on each channel when the link is gone",
            example="[failsafe]",
            what="a table of channels",
        ),
        "timers": each(TIMER, "timers", "[timers.flight]"),
        "field": key(FIELD, "the flying field", example="[field]"),
        "swash": key(SWASH, "the swashplate, where the transmitter mixes it", example="[swash]"),
        "start": key(START, "what must hold at power-up", example="[start]"),
        "intent": key(INTENT, "what the pilot means", example="[intent]"),
        "claims": listed(CLAIM, "guarantees", example="[[claims]]", what="tables headed [[claims]]"),
        "waivers": listed(WAIVER, "accepted findings", example="[[waivers]]", what="tables headed [[waivers]]"),
    },
    required="format",
)
