"""The format (FORMAT.md) as typed models, one row a key: what an editor shows, and what a file is checked against.

The models only check: exact numbers are taken from the text. `schema` makes a JSON Schema of them, and the data by
which `check` checks a file.
"""

from __future__ import annotations

import datetime

from setuplint.setup.format_channels import CHANNEL, CURVE, OVERRIDE
from setuplint.setup.format_controls import CONDITION, KNOB, MODE, SENSOR, STICKS, SWITCH
from setuplint.setup.format_craft import BATTERY, CRAFT, FIELD, PACK, RECEIVER_SUPPLY, SWASH
from setuplint.setup.format_keys import (
    any_key,
    choice_key,
    flag_key,
    formula_key,
    integer_key,
    list_key,
    name_key,
    names_key,
    number_key,
    percent_key,
    table_type,
    tables_key,
    text_key,
    union_key,
    voice_key,
)

ALARM = table_type(
    "Alarm",
    "Sounds while its `when` holds.",
    {
        "when": formula_key("when it sounds", example='"pack-low"'),
        "voice": voice_key("what the transmitter says"),
        "tone": flag_key("the transmitter gives a tone"),
        "vibrate": flag_key("the transmitter shakes"),
        "repeat": number_key(
            0,
            3600,
            "s",
            "time between repeats while `when` holds; 0 sounds once, when it becomes true",
            "0",
            example="5",
        ),
    },
    required="when",
)
TIMER = table_type(
    "Timer",
    "Counts while `runs` holds; only power-up resets it.",
    {
        "seconds": number_key(1, 86_400, "s", "the time that it counts before it sounds", example="270"),
        "runs": formula_key(
            "when it counts; it keeps its count while this does not hold", "always", example='"not hold is on"'
        ),
        "voice": voice_key("what the transmitter says at the end"),
        "tone": flag_key("the transmitter gives a tone at the end"),
        "vibrate": flag_key("the transmitter shakes at the end"),
    },
    required="seconds",
)
START = table_type(
    "Start",
    "What must hold at power-up.",
    {
        "requires": formula_key(
            "what must hold at power-up before the transmitter transmits", "every state is admitted"
        ),
        "enforced": flag_key("false: the transmitter only warns, and the pilot can wave it away", "true"),
    },
)
TRAINER = table_type(
    "Trainer",
    "A pupil on a second transmitter: while `lent` holds, channels read the pupil's sticks. Formulas always read the teacher's.",
    {
        "lent": formula_key("when the sticks are the pupil's", example='"lend is pulled"'),
        "sticks": list_key(
            choice_key("throttle aileron elevator rudder", "a stick"),
            "the sticks that are lent, each once",
            example='["aileron", "elevator"]',
            what="a list of sticks",
            min_length=1,
            max_length=4,
        ),
    },
    required="lent sticks",
)
BOUND = table_type(
    "Bound",
    "What a channel must put out: at-least, at-most or both, or value alone.",
    {
        "channel": name_key("channel", "the channel whose output tells", example='"attitude"'),
        "at-least": percent_key("% of travel", "the output is at least this", example="40"),
        "at-most": percent_key("% of travel", "the output is at most this", example="-50"),
        "value": percent_key(
            "% of travel", "the output is this, within one point. Not with at-least or at-most", example="100"
        ),
    },
    required="channel",
)
BOUND_EXAMPLE = '{ channel = "attitude", at-most = -50 }'
INTENT = table_type(
    "Intent",
    "What the pilot means, apart from how it is wired.",
    {
        "hold": formula_key(
            "throttle hold: when this holds the rotor must not be driven, whatever else is called",
            "none: hold-missing reports it",
        ),
        "stop": formula_key(
            "motor stop: when this holds the motor must not run, where hold lets it idle", "none", example='"cut is on"'
        ),
        "rescue": formula_key(
            "when this holds the pilot asks to be saved: levelled, with power, at once",
            "none",
            example='"save is pulled"',
        ),
        "level": any_key(
            BOUND,
            "the output that tells the stabiliser to level the craft: { channel, and at-least, at-most or value }",
            "none: whether a rescue levels is not judged",
            example=BOUND_EXAMPLE,
        ),
        "lift": union_key(
            choice_key("unit", "the stabiliser moves the collective itself"),
            BOUND,
            meaning="what carries the craft in a rescue: unit, where the stabiliser moves the collective itself, or the output "
            "that does: { channel, and at-least, at-most or value }",
            default="none: whether a rescue lifts is not judged",
            example='"unit"',
        ),
    },
)
CLAIM_EXAMPLE = '"hold called and motor runs"'
CLAIM = table_type(
    "Claim",
    "A guarantee of the pilot's or the club's, proved like any rule: exactly one of never and always.",
    {
        "never": formula_key("must hold in no state; may ask for outputs and predicates too", example=CLAIM_EXAMPLE),
        "always": formula_key(
            "must hold in every state; may ask for outputs and predicates too", example=CLAIM_EXAMPLE
        ),
        "patience": number_key(
            0,
            3600,
            "s",
            "what breaks it for no longer than this, while a condition waits or stays on, is not reported",
            "0.5",
            example="0.5",
        ),
        "because": text_key("why it is asked for, as a finding prints it", "none", example='"club rule"'),
    },
)
WAIVER = table_type(
    "Waiver",
    "A finding that is known and accepted.",
    {
        "rule": text_key("the name of the rule whose findings are accepted", example='"mode-jump"', min_length=1),
        "on": list_key(
            str,
            "the parts whose findings are accepted, as the findings name them",
            "every part",
            example='["idle-up"]',
            what="a list of texts",
        ),
        "reason": text_key(
            "why it is accepted: every summary prints it", example='"the soft start handles it"', min_length=1
        ),
        "until": any_key(
            datetime.date,
            "the last day on which the waiver holds, a date like 2027-04-01",
            "no end",
            example="2027-04-01",
        ),
    },
    required="rule reason",
)
FILE = table_type(
    "Setup",
    "One set-up of a radio-controlled craft.",
    {
        "format": integer_key(1, 1, "", "version of the format", example="1"),
        "extends": text_key(
            "a file with parts that several set-ups share: sticks, knobs, switches, sensors, modes. A path from this file's "
            "folder that stays inside the repository",
            "none",
            example='"club-radio.toml"',
        ),
        "craft": any_key(CRAFT, "the craft, and what was measured on it", example="[craft]"),
        "battery": any_key(BATTERY, "the flight pack", example="[battery]"),
        "packs": tables_key(
            PACK,
            "other packs flown in this craft, by name: every rule about the pack is judged for each",
            "[packs.winter]",
        ),
        "receiver-supply": any_key(RECEIVER_SUPPLY, "what the receiver lives on", example="[receiver-supply]"),
        "sticks": any_key(
            STICKS, "the four sticks; they exist even when they are not written", example="[sticks.throttle]"
        ),
        "knobs": tables_key(KNOB, "knobs and sliders, by name", "[knobs.gain]"),
        "switches": tables_key(SWITCH, "switches, by name", "[switches.hold]"),
        "sensors": tables_key(SENSOR, "sensors of the craft, heard by telemetry, by name", "[sensors.pack]"),
        "conditions": tables_key(
            CONDITION,
            "formulas with names, delayed or with memory where they say so; other formulas use them",
            "[conditions.pack-low]",
        ),
        "modes": tables_key(
            MODE,
            "flight modes; the first whose `when` holds is flown, in the order in which they are written",
            "[modes.normal]",
        ),
        "curves": tables_key(CURVE, "curves, by name; channels go through them", "[curves.hover-soft]"),
        "channels": tables_key(CHANNEL, "outputs of the receiver, by name", "[channels.motor]"),
        "overrides": tables_key(
            OVERRIDE,
            "what takes a channel from its sticks while a formula holds: hold, rescue; the highest priority decides",
            "[overrides.held]",
        ),
        "alarms": tables_key(
            ALARM, "what the transmitter says or sounds while a formula holds, by name", "[alarms.land-now]"
        ),
        "failsafe": names_key(
            union_key(
                percent_key("% of travel", "this output", example="-100"),
                choice_key("keep unit none", "keep: the last output; unit: the stabiliser takes over; none: no pulses"),
                meaning="what the receiver puts out on this channel when the link is gone: a number from -150 to 150, nothing "
                "more is applied to it; keep, the last output; unit, the stabiliser takes over; none, no pulses. "
                "Unit: % of travel",
                default="none: not described",
                example="-100",
            ),
            "what the receiver puts out when the link is gone, by the channel's name",
            example="[failsafe]",
            what="a table of channels",
        ),
        "timers": tables_key(TIMER, "timers, by name; one that sounds bounds the flight", "[timers.flight]"),
        "field": any_key(FIELD, "the flying field", example="[field]"),
        "swash": any_key(SWASH, "the swashplate, where the transmitter mixes it", example="[swash]"),
        "start": any_key(START, "what the transmitter checks at power-up", example="[start]"),
        "trainer": any_key(
            TRAINER, "a pupil on a second transmitter, and when the sticks are lent", example="[trainer]"
        ),
        "intent": any_key(
            INTENT, "what the pilot means by hold, stop and rescue, apart from how they are wired", example="[intent]"
        ),
        "claims": list_key(
            CLAIM,
            "the pilot's own guarantees, proved like any rule",
            example="[[claims]]",
            what="tables headed [[claims]]",
        ),
        "waivers": list_key(
            WAIVER,
            "findings that are known and accepted, each with its reason",
            example="[[waivers]]",
            what="tables headed [[waivers]]",
        ),
    },
    required="format",
)
