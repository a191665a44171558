"""The largest set-ups stay readable and bounded: what is left out is said."""

from __future__ import annotations

from pathlib import Path

import pytest

import setuplint
from setuplint.findings import Report
from setuplint.pages.override_map import MOST, TALLEST, TOGETHER, override_maps
from setuplint.pages.report import report_page
from setuplint.setup.model import Setup

ROOT = Path(__file__).parent.parent.parent
PLACES = 12  # positions of the largest switch


def written(modes: int, channels: int, overrides: int) -> str:
    """A set-up of that size; the motor has a curve of its own in every mode."""
    lines = ["format = 1", "[craft]", 'name = "Kestrel 700"', "motor-off = -95", "hover-throttle = 14"]
    lines += ["[switches.flight]", 'kind = "selector"', f"positions = {[f'p{n}' for n in range(PLACES)]}"]
    lines += ["[switches.bank]", 'kind = "three-position"', 'positions = ["a", "b", "c"]']
    lines += ["[switches.hold]", 'kind = "two-position"', "[switches.save]", 'kind = "momentary"']
    lines += [line for n in range(20) for line in (f"[switches.extra-{n}]", 'kind = "two-position"')]
    for n in range(modes):
        lines += [f"[modes.mode-{n}]", f'voice = "mode {n}"', f"[curves.curve-{n}]"]
        lines.append(f"points = [[-100, -100], [-50, {n - 44}], [0, 14], [50, {36 + n}], [100, 100]]")
        lines.append('smoothing = "unknown"')
    for n in range(modes - 1):
        lines.insert(
            lines.index(f"[modes.mode-{n}]") + 1, f'when = "flight is p{n % PLACES} and bank is {"abc"[n // PLACES]}"'
        )
    for n in range(channels):
        lines += [f"[channels.channel-{n}]", f"number = {n + 1}", f'drives = "{"motor" if n == 0 else "other"}"']
        lines += ['from = "throttle"', 'curve = "curve-0"'] if n == 0 else ['from = "aileron"']
        if n == 0:
            lines += [f'in.mode-{m} = {{ curve = "curve-{m}" }}' for m in range(1, modes)]
    for n in range(overrides):
        lines += [
            f"[overrides.take-{n}]",
            f'channel = "channel-{n % channels}"',
            f"value = {n % 100}",
            f"priority = {n}",
        ]
        lines.append(f'when = "extra-{n % 20} is on and save is pulled or throttle > {n % 90}"')
    return "\n".join([*lines, "[intent]", 'hold = "hold is on"', 'rescue = "save is pulled"', ""])


def model(modes: int, channels: int, overrides: int) -> tuple[Report, Setup]:
    setup = setuplint.load_text(written(modes, channels, overrides))
    assert setup.problems == ()
    return Report("kestrel.toml", setup.texts), setup.model


@pytest.mark.slow
def test_the_largest_page_is_bounded_and_says_what_it_leaves_out() -> None:
    page = report_page(*model(30, 32, 200))
    assert len(page) < 2_000_000
    table = page[page.index('id="channels"') : page.index('id="decided"')]
    shown = [
        n for n in range(32) if f'<th scope="row" role="rowheader" data-head="Channel (number)">channel-{n} (' in table
    ]
    note = table[: table.index("</p>")]
    assert 0 in shown
    assert len(shown) < 32
    for n in range(32):
        assert (f"channel-{n}," in note or f"channel-{n}." in note) != (n in shown), n


@pytest.mark.parametrize(
    ("size", "maps"), [((2, 4, 8), 1), ((2, 8, 30), 8), ((2, 12, 120), 12)], ids=["few", "thirty", "many"]
)
def test_maps_are_as_many_as_can_be_read(size: tuple[int, int, int], maps: int) -> None:
    drawn = override_maps(model(*size)[1])
    assert len(drawn) == maps
    for each in drawn:
        assert each.inside.count("<rect") <= (TOGETHER if maps == 1 else MOST)
        assert maps > 1 or each.tall <= TALLEST


def test_a_channel_that_too_much_can_take_has_its_table_alone() -> None:
    report, setup = model(2, 1, 200)
    assert override_maps(setup) == []
    page = report_page(report, setup)
    assert "too many overrides for a drawing" in page
    assert page.count(">take-") >= 200
