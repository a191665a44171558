"""The page's small evaluator against the plain one, over thousands of states, and from each finding to its case."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

import setuplint
from setuplint.formats.numbers import json_number
from setuplint.pages import explorer
from setuplint.pages.html import asset
from setuplint.pages.report import report_page
from setuplint.plain.evaluate import evaluate
from setuplint.plain.settings import after, first, reading_range
from setuplint.plain.state import OFF, Memory, State
from setuplint.setup.model import Setup
from setuplint.setup.smoothings import possible
from tests import once
from tests.browsers import kept_page, opened
from tests.report.test_page import EXAMPLES, HAZARDS, page_of

STATES = 150  # for each set-up, in walks that remember
CLOSE = 2e-6  # outputs are rounded to 1e-6, and floats may fall to either side
ALL = [*EXAMPLES, *HAZARDS]


def walk(setup: Setup, seed: int) -> tuple[list[dict[str, Any]], list[State]]:
    """Moves from power-up on, as the page takes them and as states."""
    chance = random.Random(seed)
    moves: list[dict[str, Any]] = []
    state = first(setup, {}, heard=False)
    states = [state]
    for _ in range(STATES):
        moved: dict[str, Fraction | str] = {}
        for name in chance.sample([*setup.switches, *setup.sticks], chance.randint(1, 3)):
            if name in setup.switches:
                moved[name] = chance.choice(setup.switches[name].positions)
            else:
                moved[name] = Fraction(
                    chance.choice([-100, -50, 0, 50, 100, chance.randint(-1000, 1000) / 10])
                ).limit_denominator(10)
        if setup.sensors and chance.random() < 0.5:
            name = chance.choice(list(setup.sensors))
            low, high = reading_range(setup, setup.sensors[name])
            heard = low + (high - low) * Fraction(chance.randint(0, 1000), 1000)
            moved[name] = "lost" if chance.random() < 0.3 else heard
        state = after(setup, state, moved)
        states.append(state)
        moves.append({name: value if isinstance(value, str) else json_number(value) for name, value in moved.items()})
    return moves, states


RUN = """([model, moves, smoothing]) => {
  let state = { ...setuplint.rest(model, false), ...(Object.keys(smoothing).length && { smoothing }) };
  let seen = setuplint.evaluate(model, state, { on: {}, last: {} });
  const all = [seen];
  for (const each of moves) {
    state = setuplint.moved(model, state, each);
    seen = setuplint.evaluate(model, state, seen.memory);
    all.push(seen);
  }
  return all;
}"""


@pytest.mark.quick(1)
@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_the_page_says_what_the_plain_evaluator_says(browser: Browser, path: Path) -> None:
    assert_same(browser, setuplint.load(path).model, len(path.stem))


NAMED = """format = 1
[switches.save]
kind = "momentary"
positions = ["released", "pulled"]
[switches.hold]
kind = "two-position"
[sensors.heard]
reads = "link-quality"
[conditions.kept]
when = "save is pulled or heard < 40"
until = "hold is on"
[channels.speed]
drives = "motor"
from = "throttle"
[overrides.power]
channel = "speed"
value = 40
when = "kept"
"""


@pytest.mark.parametrize("name", ["save", "heard", "kept"])
def test_a_part_with_a_name_that_scripts_know(browser: Browser, name: str) -> None:
    """Every object of theirs has a `constructor`."""
    found = setuplint.load_text(NAMED.replace(name, "constructor"))
    assert not found.problems
    assert_same(browser, found.model, 7)


UNKNOWN = """format = 1
[craft]
motor-off = -95
[switches.hold]
kind = "two-position"
[curves.soft]
points = [[-100, -100], [-60, -100], [-20, -100], [0, 90], [100, 100]]
smoothing = "unknown"
[channels.motor]
drives = "motor"
from = "throttle"
curve = "soft"
[intent]
hold = "hold is on"
[overrides.held]
channel = "motor"
value = -100
when = "hold is on and not throttle > -85"
[start]
requires = "throttle < -95"
"""


@pytest.mark.parametrize("kind", possible("unknown"))
def test_a_smoothing_that_nobody_knows_is_as_it_is_chosen(browser: Browser, kind: str) -> None:
    assert_same(browser, setuplint.load_text(UNKNOWN).model, 3, {"soft": kind})


def test_the_page_says_as_what_a_curve_is_taken(browser: Browser, written: Path) -> None:
    report = setuplint.lint_text(UNKNOWN.replace("not throttle > -85", "throttle < -85"))
    number, (hazard,) = next((n, [x]) for n, x in enumerate(report.findings) if "soft is smoothed as" in str(x.assumed))
    page, said = opened(browser, written, report_page(report, setuplint.load_text(UNKNOWN).model))
    (row,) = page.locator("#outputs tr").all()
    assert "smoothed" not in row.inner_text()
    page.locator(f"button[data-finding='{number}']").click()
    (kind,) = [each for each in possible("unknown") if f"soft is smoothed as {each}" in hazard.assumed]
    assert page.locator("select").input_value() == kind
    assert f"if soft is smoothed as {kind}" in row.inner_text()
    assert row.locator("td").first.inner_text().startswith(f"{float(hazard.outputs['motor']):+g}"[:5])
    page.locator("select").select_option("monotone")
    assert "if soft is smoothed as monotone" in row.inner_text()
    assert said == []


def test_the_page_says_so_where_only_two_curves_together_matter(browser: Browser, written: Path) -> None:
    """With one of them alone smoothed otherwise the output stays at its limit."""
    text = """format = 1
[craft]
motor-off = -95
[curves.a]
points = [[-100, -100], [-50, -80], [0, 16], [50, 20], [100, 100]]
smoothing = "unknown"
[curves.b]
points = [[-100, 40], [-40, -30], [0, 0], [40, 5], [100, -40]]
smoothing = "unknown"
[channels.motor]
drives = "motor"
from = "throttle"
curve = "a"
mix = [{ from = "elevator", curve = "b" }]
low = 60
"""
    page, said = opened(browser, written, report_page(setuplint.lint_text(text), setuplint.load_text(text).model))
    page.get_by_role("slider", name="throttle").fill("75")
    page.get_by_role("slider", name="elevator").fill("20")
    (row,) = page.locator("#outputs tr").all()
    assert "+60 %" in row.inner_text().replace("\N{NO-BREAK SPACE}", " ")
    assert "if a is smoothed as monotone, if b is smoothed as monotone" in row.inner_text()
    assert said == []


def assert_same(browser: Browser, setup: Setup, seed: int, smoothing: dict[str, str] | None = None) -> None:
    """Along a random walk, with curves of unknown smoothing taken so."""
    moves, states = walk(setup, seed)
    page = kept_page(browser, apart="empty").page
    page.evaluate(asset("explorer.js").replace("const setuplint", "globalThis.setuplint"))
    found = page.evaluate(RUN, [json.loads(json.dumps(explorer.explorer_model(setup))), moves, smoothing or {}])
    states = [replace(state, smoothing=smoothing or {}) for state in states]
    memory: Memory = OFF
    for state, seen in zip(states, found, strict=True):
        plain = evaluate(setup, state, memory)
        memory = plain.memory
        assert seen["conditions"] == dict(plain.conditions), state
        assert [name for name, flown in seen["modes"].items() if flown] == [plain.mode or ""], state
        for channel, output in plain.outputs.items():
            values = seen["outputs"][channel]
            if channel in plain.tied:
                assert set(seen["deciders"][channel]) == set(plain.tied[channel])
            elif output is None:
                assert values[0] is None, (channel, state)
            else:
                assert abs(values[0] - float(output)) <= CLOSE, (channel, state)
                assert seen["deciders"][channel] == [plain.deciders[channel] or ""]


@pytest.mark.quick(1)
@pytest.mark.parametrize("path", HAZARDS, ids=lambda path: path.stem)
def test_each_finding_leads_to_its_case(browser: Browser, written: Path, path: Path) -> None:
    report = once.lint(path)
    page, said = opened(browser, written, page_of(path))
    for number, finding in enumerate(report.findings):
        if not (finding.witness or finding.steps):
            continue
        page.locator(f"button[data-finding='{number}']").click()
        assert f"The case of finding {number + 1}." in page.locator("#said").inner_text()
        if "in haste" in str(finding.assumed) or any("tie" in each or "delay" in each for each in finding.assumed):
            continue  # what the page shows is settled
        rows = dict(row.split("\t")[:2] for row in page.locator("#outputs").inner_text().split("\n"))
        for channel, output in finding.outputs.items():
            shown = float(rows[channel].split(" ")[0])
            assert abs(shown - float(output)) <= 0.0051, (finding.rule, channel, rows)
    assert said == []


def test_the_controls_do_what_they_say(browser: Browser, written: Path) -> None:
    path = next(each for each in EXAMPLES if each.stem == "reference")
    page, said = opened(browser, written, page_of(path))

    def shown(channel: str) -> str:
        return page.locator(f"#outputs tr:has(th:text-is('{channel}')) td").first.inner_text()

    assert shown("motor") == "-100 % (0 of 100, 1000 µs)"
    page.get_by_label("pulled").check()
    assert shown("motor") == "+55 % (77.5 of 100, 1775 µs)"
    page.get_by_label("on", exact=True).check()
    assert shown("motor") == "-100 % (0 of 100, 1000 µs)"
    page.get_by_label("off", exact=True).check()
    page.get_by_label("released").check()
    page.get_by_role("slider", name="throttle").fill("0")
    assert shown("motor") == "+16 % (58 of 100, 1580 µs)"
    page.locator("input[aria-label=pack]").fill("21")
    assert "alarms sounding: land-now" in page.locator("#standing").inner_text()
    page.locator("select[aria-label^=pack]").select_option("lost")
    assert "alarms sounding: pack-gone" in page.locator("#standing").inner_text()
    page.get_by_text("All at rest").click()
    assert "alarms sounding: none" in page.locator("#standing").inner_text()
    page.get_by_text("Switch on again").click()
    assert page.locator("select[aria-label^=pack]").input_value() == "unheard"
    assert said == []


def test_a_page_for_a_set_up_that_cannot_be_read(browser: Browser, written: Path) -> None:
    text = "format = 1\n[craft]\nname = \n[channels.motor]\ndrives = 'motor'\nfrom = 'nothing'\n"
    page, said = opened(browser, written, report_page(setuplint.lint_text(text), setuplint.load_text(text).model))
    assert page.locator(".finding").count() > 1
    assert said == []


@pytest.mark.slow
def test_what_decides_is_named_with_its_line(browser: Browser, written: Path) -> None:
    path = next(each for each in HAZARDS if each.stem == "rescue-beats-hold")
    page, said = opened(browser, written, page_of(path))
    lines = path.read_text(encoding="utf-8").splitlines()

    def by(channel: str) -> str:
        return page.locator(f"#outputs tr:has(th:text-is('{channel}')) td").last.inner_text()

    assert by("motor") == f"its own line (line {lines.index('[channels.motor]') + 1})"
    page.locator("button[data-finding='0']").click()
    assert by("motor") == f"rescue-power (line {lines.index('[overrides.rescue-power]') + 1})"
    page.get_by_label("released").check()
    assert by("motor") == f"held (line {lines.index('[overrides.held]') + 1})"
    assert said == []


@pytest.mark.slow
def test_a_line_of_a_mode_is_named_with_its_own_line(browser: Browser, written: Path) -> None:
    path = next(each for each in EXAMPLES if each.stem == "reference")
    page, _ = opened(browser, written, page_of(path))
    lines = path.read_text(encoding="utf-8").splitlines()
    page.get_by_label("idle-up-1").check()
    place = next(
        number for number, line in enumerate(lines, start=1) if line.startswith("in.idle-up") and "spool" in line
    )
    shown = page.locator("#outputs tr:has(th:text-is('motor')) td").last.inner_text()
    assert shown == f"its own line for idle-up (line {place})"
