"""The page's interpreter against the command's: the same questions, readings, complaints and files, in a real browser."""

from __future__ import annotations

import json
import random
from collections.abc import Mapping
from typing import Any

from playwright.sync_api import Browser

from setuplint.interview.course import course
from setuplint.interview.data import interview
from setuplint.interview.page_data import page_data
from setuplint.interview.replies import shown_answer
from setuplint.interview.text import setup_text
from setuplint.pages.html import asset
from tests.interview.random_replies import random_replies

PILOTS = 20
RUN = """([data, all]) => all.map((replies) => {
  const found = interview.course(data, replies);
  const steps = found.steps.map((step) => [step.key, step.text, interview.shown(data, step.question, step.default),
    interview.shown(data, step.question, step.answer), step.complaint]);
  return { steps, text: interview.setup(data, found.answers) };
})"""
ODD = (
    *("\u00a0+16\u00a0%", "−20", "7,25 V", "1e3", "01", "--3", "YES", "nO", "un", "don’t know", "ID LE__up", "a,,b"),
    *("motor=02", "12345678", "1.2345678", "é", "İ", "\u200b", "-0", "no, none", "x" * 61, "\U0001f681", "“q”", "a\\b"),
    *("150.0001", "21 mΩ", 'a "b"', "constructor", "__proto__"),
)


def odd_replies(seed: int) -> dict[str, str]:
    """Those of a pilot, some of them turned into something odd."""
    chance = random.Random(seed)
    replies = random_replies(seed)
    for key in chance.sample(list(replies), min(6, len(replies))):
        if key != "modes":
            replies[key] = chance.choice((*ODD, replies[key].upper() + chance.choice(("", " %", "0", "V", "."))))
    return replies


def by_command(replies: Mapping[str, str]) -> dict[str, Any]:
    found = course(replies, asking=False)
    steps = [[each.key, each.text, shown_answer(interview(), each.question, each.default),
              shown_answer(interview(), each.question, each.answer), each.complaint] for each in found.steps]  # fmt: skip
    return {"steps": steps, "text": setup_text(found)}


def test_the_page_says_and_writes_what_the_command_does(browser: Browser) -> None:
    replies = [*map(random_replies, range(PILOTS)), *(random_replies(n, 0.4) for n in range(PILOTS))]
    replies += [*map(odd_replies, range(2 * PILOTS)), {}]
    page = browser.new_page()
    page.evaluate(asset("interview.js").replace("const interview", "globalThis.interview"))
    found = page.evaluate(RUN, [json.loads(page_data({}, {})), replies])
    page.close()
    for given, seen in zip(replies, found, strict=True):
        expected = by_command(given)
        assert seen["steps"] == expected["steps"], given
        assert seen["text"] == expected["text"], given
    complaints = {step[4] for seen in found for step in seen["steps"]}
    assert len(complaints) > 50, "odd replies must be refused, or this shows nothing"
