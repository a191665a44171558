"""The interview of `new` as one page that writes the setup in the browser: it makes no request and sends nothing."""

from __future__ import annotations

from collections.abc import Mapping

from setuplint.interview.page_data import page_data
from setuplint.pages.html import asset, html_page, tag, text

INTRO = """\
Answer what you know of your craft. A field that is left empty is what stands grey in it; “not known” is left out of the file, \
and lint lists what it could not judge for that. Percent, “58 of 100”, microseconds and units are understood."""
CAREFUL = """\
Enter nothing that is in this file with a motor that can turn blades: disconnect the motor or take the blades off, and restrain \
the craft before a pack is connected. A clean result is not a clearance to fly; national rules, the club's field rules and the \
makers' manuals come first."""
KEPT = """\
Nothing leaves this page. Answers are kept on this device, where the browser lets them be; “Save the answers” makes a file with \
which setuplint new goes on from here."""
NO_SCRIPT = (
    "This page makes the file by a script of its own, and scripts are switched off: setuplint new asks the same."
)
BUTTONS = (("save", "Save the setup"), ("copy", "Copy"), ("draft", "Save the answers"), ("again", "Start again"))


def interview_page(replies: Mapping[str, str], suggested: Mapping[str, str]) -> str:
    """The whole page, filled in with what is known."""
    buttons = "".join(tag("button", words, id=name, type="button") for name, words in BUTTONS)
    result = (
        tag("h2", "The setup") + tag("p", "", id="state", role="status") + tag("div", buttons) + tag("ul", "", id="open")
        + tag("p", "Next: " + tag("code", "", id="next") + ", then its sheet and its bench card.")
        + tag("pre", "", id="file", tabindex="0", aria_label="the setup as it is so far")
    )  # fmt: skip
    careful = tag("p", text(CAREFUL), class_="careful") + tag("noscript", tag("p", NO_SCRIPT, class_="careful bad"))
    questions = tag("form", "", id="questions", autocomplete="off")
    body = (
        tag("header", tag("h1", "A first setup") + tag("p", text(INTRO)) + careful)
        + tag("main", questions + tag("section", result, class_="result", aria_label="The setup"), class_="interview")
        + tag("footer", text(KEPT))
    )
    script = asset("interview.js") + asset("interview_form.js")
    return html_page(
        "A first setup", body, data=page_data(replies, suggested), script=script, styles=("interview.css",)
    )
