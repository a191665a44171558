"""The page's interpreter against the command's: the same questions, readings, complaints and files, in a real browser."""

from __future__ import annotations

import json
import random
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import pytest
from playwright.sync_api import Browser

from setuplint.interview import functions
from setuplint.interview.course import CourseNames, course, setup_text
from setuplint.interview.data import interview
from setuplint.interview.replies import shown_answer
from setuplint.interview.terms import decimal_text, term
from setuplint.pages.html import asset
from setuplint.pages.interview_page import page_data
from tests.browsers import kept_page
from tests.interview.random_replies import random_replies
from tests.interview.test_silence import LIFE

PILOTS = 24
RUN = """([data, all]) => all.map((replies) => {
  const found = interview.course(data, replies);
  const steps = found.steps.map((step) => [step.key, step.text, interview.shown(data, step.question, step.default),
    interview.shown(data, step.question, step.answer), step.complaint]);
  return { steps, text: interview.setup(data, found.answers) };
})"""
ODD = (
    *("\u00a0+16\u00a0%", "−20", "7,25 V", "1e3", "01", "--3", "YES", "nO", "un", "don’t know", "ID LE__up", "a,,b"),
    *("motor=02", "12345678", "1.2345678", "é", "İ", "\u200b", "-0", "no, none", "x" * 61, "\U0001f681", "“q”", "a\\b"),
    *("+16 % (58 of 100, 1580 µs)", "+16 % (59 of 100)", "20 % (no)", "20 (20) (20)", "12.345 % (56.17 of 100)"),
    *(
        "2,600",
        "2.600 Ah",
        "1.200 m",
        "150.0001",
        ".5",
        "-.25 %",
        "5.",
        ".",
        "21 mΩ",
        'a "b"',
        "constructor",
        "__proto__",
    ),
)

# d is refused for what c is, and was not when b and c were asked
JOLT = {"rotor": "collective", "modes": "a, b, c, d", "idle_up b": "20", "idle_up c": "40", "idle_up d": "10"}


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


@pytest.mark.slow
def test_the_page_says_and_writes_what_the_command_does(browser: Browser) -> None:
    replies = [*map(random_replies, range(PILOTS)), *(random_replies(seed, 0.4) for seed in range(PILOTS))]
    replies += [*map(odd_replies, range(2 * PILOTS)), {}, JOLT]
    page = kept_page(browser, apart="empty").page
    page.evaluate(asset("interview.js").replace("const interview", "globalThis.interview"))
    found = page.evaluate(RUN, [json.loads(page_data({}, {})), replies])
    for given, seen in zip(replies, found, strict=True):
        expected = by_command(given)
        assert seen["steps"] == expected["steps"], given
        assert seen["text"] == expected["text"], given
    complaints = {step[4] for seen in found for step in seen["steps"]}
    assert len(complaints) > 50, "odd replies must be refused, or this shows nothing"


NUMBERS = ("-100", "-1.5", "0", "0.1", "1", "1.5", "100", "no", "nothing", "'a'", "[1, 2]")
PAIRS = [
    f"{a} {op} {b}" for op in ("+", "-", "*", "/", "<", "<=", ">", ">=", "==", "!=") for a in NUMBERS for b in NUMBERS
]
CALLS = [
    *(f"{name}({x})" for name in ("known", "flag", "percent", "motor", "quoted", "spoken") for x in NUMBERS),
    *(
        "least(2, nothing, [1, no])",
        "most(2, nothing, [3, no])",
        "least(nothing)",
        "most([])",
        "join([1, no, 'b'], '-')",
        "join([], '-')",
    ),
    *(
        "down(-7, 2)",
        "down(7.3, 0.5)",
        "down(nothing, 2)",
        "count(nothing)",
        "count([1])",
        "count('ab')",
        "first([])",
        "first([1, 2])",
        "last([1, 2])",
        "rest([1, 2])",
        "rest(nothing)",
        "first(x for x in [1, 2, 3] if x > 1)",
        "first(x for x in nothing)",
    ),
    *(
        "flat([[1], [2, 3]])",
        "steps(0, 1, 0.3)",
        "keys({'b': 1, 'a': 2})",
        "{'a': 1}['b']",
        "[1, 2][1]",
        "padded('a', 3)",
    ),
    *(
        f"charge('{kind}', {v})"
        for kind in ("lipo", "lihv", "li-ion", "life")
        for v in (1.9, 3.1, 3.3, 3.777, 4.2, 4.5)
    ),
    *(
        "[x for x in [1, 2, 3] if x > 1]",
        "f'{1.50}{no}'",
        "f'{-0.125} {1 / 3}'",
        "0 in [no]",
        "1 in [1]",
        "2 not in [1]",
    ),
    *("1 if nothing else 2", "not 0", "not no", "0 and 1", "nothing or 0", "-(1 / 3)", "quoted('a \"b\" c')"),
]
EVALUATE = """([data, trees]) => {
  const shown = (v) => v instanceof Map ? [...v].map(shown) : Array.isArray(v) ? v.map(shown)
    : v && v.over !== undefined ? `${v.over}/${v.under}` : v === undefined ? null : v;
  return trees.map((tree) => shown(interview.value(data, tree, interview.lookUp(data, { no: false }, {}))));
}"""


@pytest.mark.slow
def test_every_operation_and_function_comes_to_the_same(browser: Browser) -> None:
    page = kept_page(browser, apart="empty").page
    page.evaluate(asset("interview.js").replace("const interview", "globalThis.interview"))
    texts = [*PAIRS, *CALLS]
    found = page.evaluate(EVALUATE, [json.loads(page_data({}, {})), [term(text) for text in texts]])
    names = CourseNames(interview(), {"no": False})
    for text, seen in zip(texts, found, strict=True):
        assert seen == plain_value(names.worth(term(text))), text


COUNT = """([data, replies]) => {
  const { charge } = interview.functions, asked = [];
  interview.functions.charge = function (data, kind, volts) {
    asked.push(volts.text());
    return charge.call(this, data, kind, volts);
  };
  interview.setup(data, interview.course(data, replies).answers);
  return asked;
}"""
THREE_PACKS = LIFE | {"chemistry": "lipo", "packs": "a, b", "pack_capacity b": "900", "pack_sensor": "yes"}


@pytest.mark.slow
def test_the_page_works_out_no_more_than_the_command(browser: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def charge(chemistry: str, volts: Fraction) -> Fraction:
        asked.append(decimal_text(volts))
        return functions.charge(chemistry, volts)

    monkeypatch.setitem(functions.FUNCTIONS, "charge", charge)
    setup_text(course(THREE_PACKS, asking=False))
    page = kept_page(browser, apart="empty").page
    page.evaluate(asset("interview.js").replace("const interview", "globalThis.interview"))
    assert page.evaluate(COUNT, [json.loads(page_data({}, {})), THREE_PACKS]) == asked != []


def plain_value(what: Any) -> Any:
    """As the page hands it over."""
    if isinstance(what, Fraction):
        return f"{what.numerator}/{what.denominator}"
    if isinstance(what, dict):
        return [[key, plain_value(value)] for key, value in what.items()]
    return [plain_value(each) for each in what] if isinstance(what, list) else what
