"""The card on which a transmitter that exists is read: one page, for a telephone at the bench, that saves what was read."""

from __future__ import annotations

from setuplint.interview.page_data import page_data
from setuplint.pages.html import asset, html_page, tag, text

INTRO = """\
Say which switches and channels there are, then set each place and read the channels from the transmitter's own monitor of its \
outputs. Percent, “58 of 100” and microseconds are understood. A place that is left empty stays open."""
CAREFUL = """\
The throttle goes to full on this card, and switches are moved without the hold: take the blades off or disconnect the motor, \
restrain the craft, or read with the craft switched off, if the transmitter shows its outputs then."""
KEPT = """\
Nothing leaves this page. What is filled in stays on this device, where the browser lets it. Save it, then: setuplint new \
craft.toml --from-readings readings.toml"""
NO_SCRIPT = (
    "This page works by a script of its own, and scripts are switched off. docs/readings.md has the file's format."
)
BUTTONS = (("save", "Save the readings"), ("again", "Start again"))


def readings_page() -> str:
    """The whole page."""
    careful = tag("p", text(CAREFUL), class_="careful") + tag("noscript", tag("p", NO_SCRIPT, class_="careful bad"))
    buttons = "".join(tag("button", words, id=name, type="button") for name, words in BUTTONS)
    parts = tag("section", tag("h2", "Craft") + tag("div", "", id="craft"))
    parts += "".join(
        tag(
            "section",
            tag("h2", title) + tag("div", "", id=name) + tag("button", more, id=f"{name}-more", type="button"),
        )
        for name, title, more in (
            ("switches", "Switches", "One more switch"),
            ("channels", "Channels", "One more channel"),
        )
    )
    places = tag("section", tag("h2", "Places") + tag("p", "", id="state", role="status") + tag("div", "", id="places"))
    body = (
        tag("header", tag("h1", "Readings of a transmitter") + tag("p", text(INTRO)) + careful)
        + tag("main", parts + places + tag("p", buttons), class_="readings")
        + tag("footer", text(KEPT))
    )
    script = asset("interview.js") + asset("readings.js")
    return html_page(
        "Readings of a transmitter", body, data=page_data({}, {}), script=script, styles=("interview.css",)
    )
