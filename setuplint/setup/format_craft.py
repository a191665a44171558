"""The rows of `shape` for the craft, its battery, its swashplate and the field."""

from __future__ import annotations

from setuplint.setup.format_keys import (
    any_key,
    choice_key,
    flag_key,
    integer_key,
    number_key,
    percent_key,
    table_type,
    text_key,
)

PULSE = table_type(
    "Pulse",
    "The pulse of an output.",
    {
        "centre": number_key(
            500,
            2500,
            "µs",
            "pulse at an output of 0 %. Changes no output: it is what tables and cards print beside it",
            "1500",
            example="1500",
        ),
        "per-percent": number_key(
            0.1,
            20,
            "µs a percent",
            "what one percent of output adds to the pulse: at 5, outputs of -100 and +100 % are 1000 and 2000 µs",
            "5",
            example="5",
        ),
    },
)
CRAFT = table_type(
    "Craft",
    "The craft, and what was measured on it.",
    {
        "name": text_key(
            "the craft's name, 1 to 60 characters, as reports and cards print it",
            "the file's name without its ending",
            example='"Wagtail 470"',
            min_length=1,
            max_length=60,
        ),
        "kind": choice_key(
            "helicopter multirotor", "the kind of craft. Picks the default of rotor and changes no output", "helicopter"
        ),
        "rotor": choice_key(
            "collective fixed",
            "what carries the craft. collective: blade pitch, by the channel that drives collective; fixed: rotor speed alone, "
            "so that rules about the hover look at the motor",
            "collective on a helicopter, fixed on a multirotor",
        ),
        "power": choice_key(
            "electric engine",
            "what turns the rotor. engine: there is no pack of the motor, so its rules do not apply, and an idle may run below "
            "rotor-free",
            "engine if rotor-free is given and neither [battery] nor [packs] is; else electric",
        ),
        "stabilised": flag_key(
            "a unit in the craft mixes, and holds attitude or rates",
            "true if a channel drives the stabiliser; else not known, which counts as no",
        ),
        "radio": text_key(
            "a name for the transmitter. Set-ups with the same one are compared: hold, rescue and modes should be called by the "
            "same movement on all of them",
            "none: compared with no other",
            example='"blue"',
        ),
        "motor-off": percent_key(
            "% of the motor channel's output",
            "at or below this output the speed controller keeps the motor stopped, tried on the bench. Note the scale: where "
            "the transmitter shows the motor as 0 to 100, its 0 is -100 here",
            "none: whether the motor runs is not judged",
            example="-95",
        ),
        "rotor-free": percent_key(
            "% of the motor channel's output",
            "at or below this output the rotor is not driven, though an engine may idle. Not below motor-off",
            "motor-off",
            example="-70",
        ),
        "hover-throttle": percent_key(
            "% of the motor channel's output",
            "the motor channel's output in a steady hover, as measured. What a rescue needs is worked out from it",
            "none: what rests on the hover is not judged",
            example="16",
        ),
        "hover-collective": percent_key(
            "% of the collective channel's output",
            "the collective channel's output in a steady hover, as measured. Not with rotor = fixed",
            "none: what rests on the hover is not judged",
            example="30",
        ),
        "soft-start": flag_key(
            "from a stop, the speed controller takes 2 s or more to full speed",
            "not known: taken for false by the rules",
        ),
        "governed-above": percent_key(
            "% of the motor channel's output",
            "at and above this output a governor holds the rotor's speed. Above rotor-free",
            "no governor",
            example="20",
        ),
        "arms-when-stopped": flag_key(
            "the speed controller arms only once it has seen motor-off or below, tried on the bench",
            "not known: taken for false by the rules",
        ),
        "hover-measured-at-m": number_key(
            -500,
            9000,
            "m above the sea",
            "how high the place is where hover-throttle was measured. With [field] elevation-m, hover-throttle is worked out for "
            "the thinner or denser air there",
            "none: taken as measured",
            example="240",
        ),
        "pulse": any_key(
            PULSE,
            "how an output is printed as a pulse; changes no output",
            example="{ centre = 1500, per-percent = 5 }",
        ),
    },
)
BATTERY_ROWS = {
    "chemistry": choice_key(
        "lipo lihv li-ion life",
        "the cells' chemistry (lihv: high-voltage LiPo, life: LiFePO4). It picks how low a loaded cell may go, and what a "
        "full one has",
        "none: floors are not judged",
    ),
    "cells": integer_key(
        1, 24, "cells", "cells in series", "none: what a pack's volts are in a cell is not judged", example="6"
    ),
    "capacity-mah": number_key(
        1,
        1_000_000,
        "mAh",
        "the pack's capacity. With hover-current-a it gives the time that a timer may count",
        "none: flight times are not judged",
        example="2600",
    ),
    "resistance-mohm": number_key(
        0,
        10_000,
        "milliohm",
        "resistance of the whole pack, warm. It gives the sag of its voltage under load",
        "none: what rests on the sag is not judged",
        example="21",
    ),
    "hover-current-a": number_key(
        0, 1000, "A", "the pack's current in a steady hover", "none: what rests on it is not judged", example="27"
    ),
    "peak-current-a": number_key(
        0, 1000, "A", "the pack's greatest current in flight", "none: hover-current-a is taken", example="60"
    ),
}
BATTERY = table_type("Battery", "The flight pack.", BATTERY_ROWS)
PACK = table_type("Pack", "Another pack flown in this craft: what it has otherwise than [battery].", BATTERY_ROWS)
RECEIVER_SUPPLY = table_type(
    "ReceiverSupply",
    "What the receiver and the servos live on.",
    {
        "kind": choice_key("regulator lipo lihv li-ion life nimh", "what gives it; it picks the floor"),
        "cells": integer_key(1, 10, "cells", "cells in series. Required but for a regulator", "none", example="2"),
        "volts": number_key(
            3, 15, "V", "what a regulator gives. Required for one, and for one only", "none", example="6"
        ),
    },
    required="kind",
)
FIELD = table_type(
    "Field",
    "The flying field.",
    {"elevation-m": number_key(-500, 9000, "m above the sea", "how high the flying field lies", example="240")},
    "elevation-m",
)
SWASH = table_type(
    "Swash",
    "The swashplate, where the transmitter mixes it.",
    {
        "servos": choice_key(
            "one two-90 three-120 three-135 three-140 four-90",
            "how many servos carry the plate, and the angle between them in degrees",
        ),
        "collective": percent_key(
            "% of servo travel at full stick",
            "how far a full collective demand moves each servo",
            "none: the servos are not judged",
            example="60",
        ),
        "cyclic": percent_key(
            "% of servo travel at full stick",
            "how far a full aileron or elevator demand moves a servo that stands in its direction",
            "none: the servos are not judged",
            example="55",
        ),
        "ring": number_key(
            1,
            150,
            "% of full stick",
            "the circle that aileron and elevator together are held to",
            "the whole square",
            example="100",
        ),
    },
    required="servos",
)
