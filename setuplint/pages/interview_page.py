"""The interview of `new` as one page that writes the setup in the browser, and the card on which a transmitter that exists is
read, for a telephone at the bench. Neither makes a request or sends anything."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from setuplint.checks.cells import CHARGE, SETS, TABLES, UNITS
from setuplint.interview.data import interview
from setuplint.interview.replies import NOT_NAMES
from setuplint.named_tuple import NamedTuple
from setuplint.pages.html import asset, html_page, tag, text
from setuplint.setup.declarations import STICKS

Buttons = tuple[tuple[str, str], ...]


class PageWords(NamedTuple):
    """What a page says at its top and bottom, and where scripts are switched off."""

    title: str
    intro: str
    careful: str
    kept: str
    no_script: str


INTERVIEW = PageWords(
    "A first setup",
    """\
Answer what you know of your craft. A field that is left empty is what stands grey in it; “not known” is left out of the file, \
and lint lists what it could not judge for that. Percent, “58 of 100”, microseconds and units are understood.""",
    """\
Enter nothing that is in this file with a motor that can turn blades: disconnect the motor or take the blades off, and restrain \
the craft before a pack is connected. A clean result is not a clearance to fly; national rules, the club's field rules and the \
makers' manuals come first.""",
    """\
Nothing leaves this page. Answers are kept on this device, where the browser lets them be; “Save the answers” makes a file with \
which setuplint new goes on from here.""",
    "This page makes the file by a script of its own, and scripts are switched off: setuplint new asks the same.",
)
READINGS = PageWords(
    "Readings of a transmitter",
    """\
Say which switches and channels there are, then set each place and read the channels from the transmitter's own monitor of its \
outputs. Percent, “58 of 100” and microseconds are understood. A place that is left empty stays open.""",
    """\
The throttle goes to full on this card, and switches are moved without the hold: take the blades off or disconnect the motor, \
restrain the craft, or read with the craft switched off, if the transmitter shows its outputs then.""",
    """\
Nothing leaves this page. What is filled in stays on this device, where the browser lets it. Save it, then: setuplint new \
craft.toml --from-readings readings.toml""",
    "This page works by a script of its own, and scripts are switched off. docs/readings.md has the file's format.",
)


def interview_page(replies: Mapping[str, str], suggested: Mapping[str, str]) -> str:
    """The whole page, filled in with what is known."""
    buttons = (("save", "Save the setup"), ("copy", "Copy"), ("draft", "Save the answers"), ("again", "Start again"))
    result = (
        tag("h2", "The setup") + tag("p", "", id="state", role="status") + tag("div", _buttons(buttons))
        + tag("ul", "", id="open") + tag("p", "Next: " + tag("code", "", id="next") + ", then its sheet and its bench card.")
        + tag("pre", "", id="file", tabindex="0", aria_label="the setup as it is so far")
    )  # fmt: skip
    questions = tag("form", "", id="questions", autocomplete="off")
    main = questions + tag("section", result, class_="result", aria_label="The setup")
    return _page(INTERVIEW, tag("main", main, class_="interview"), page_data(replies, suggested), "interview_form.js")


def readings_page() -> str:
    """The whole card."""
    parts = tag("section", tag("h2", "Craft") + tag("div", "", id="craft"))
    for name, one in (("switches", "switch"), ("channels", "channel")):
        more = _buttons(((f"{name}-more", f"One more {one}"),))
        parts += tag("section", tag("h2", name.capitalize()) + tag("div", "", id=name) + more)
    places = tag("section", tag("h2", "Places") + tag("p", "", id="state", role="status") + tag("div", "", id="places"))
    buttons = tag("p", _buttons((("save", "Save the readings"), ("again", "Start again"))))
    return _page(READINGS, tag("main", parts + places + buttons, class_="readings"), page_data({}, {}), "readings.js")


def _buttons(named: Buttons) -> str:
    return "".join(tag("button", words, id=name, type="button") for name, words in named)


def _page(words: PageWords, main: str, data: str, script: str) -> str:
    careful = tag("p", text(words.careful), class_="careful")
    careful += tag("noscript", tag("p", words.no_script, class_="careful bad"))
    header = tag("header", tag("h1", words.title) + tag("p", text(words.intro)) + careful)
    body = header + main + tag("footer", text(words.kept))
    return html_page(
        words.title, body, data=data, script=asset("interview.js") + asset(script), styles=("interview.css",)
    )


def page_data(replies: Mapping[str, str], suggested: Mapping[str, str]) -> str:
    """With the replies that are known already, and defaults by a question's key that are not those of the data."""
    data: dict[str, Any] = asdict(interview())
    cells = {name: [TABLES[table] for table in tables] for name, tables in SETS.items()}
    data |= {
        "taken": sorted(NOT_NAMES),
        "sticks": STICKS,
        "cells": {"charge": CHARGE, "units": UNITS, "sets": cells},
        "replies": dict(replies),
        "suggested": dict(suggested),
    }
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))
