"""How the work of a lint grows with a setup: `python -m tests.growth [SHAPE ...]` writes docs/growth.md and docs/growth.svg; with
some shapes named, the rows of the others stay.

Counted are units of work (setuplint/budget.py) and calls of functions, which also see what the budget does not count. Neither
hangs on the machine.
"""

from __future__ import annotations

import cProfile
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import NamedTuple

import setuplint
from setuplint import budget
from setuplint.setup.file_sources import TextsByName
from tests.shapes import SHAPES, Shape, beside, bytes_of

DOCS = Path(__file__).parent.parent / "docs"
SIZES = (10, 40, 160)
MARK = "<!-- at 1,000,000 bytes: by python -m tests.heavy -->\n"
WIDTH, HEIGHT, COLUMNS, PAD = 170, 110, 5, 26
LEAST, MOST = 5, 8  # powers of ten of the calls that the plot shows
STYLE = """\
text { font: 11px sans-serif; fill: #1c2733 } polyline { fill: none; stroke: #1d6fb8; stroke-width: 2 }
rect { fill: #f4f7fa; stroke: #a9b8c6 } circle { fill: #1d6fb8 } .cut { fill: #c0392b }
@media (prefers-color-scheme: dark) { text { fill: #e6edf3 } rect { fill: #1d2935 } }"""


class Effort(NamedTuple):
    """What one lint cost."""

    size: int
    bytes: int
    work: int
    calls: int
    undecided: int  # findings that say so


def effort(shape: Shape, size: int, *, count_calls: bool = True) -> Effort:
    """The cost of a lint of a shape at a size. Counting calls of functions makes it several times slower."""
    text, profile = shape(size), cProfile.Profile()
    call = partial(setuplint.lint_text, text, "growing.toml", beside=TextsByName(beside(text), "growing.toml"))
    report = profile.runcall(call) if count_calls else call()
    calls = sum(entry.callcount for entry in profile.getstats()) if count_calls else 0
    undecided = [x for x in report.findings if x.rule == "not-decided"]
    assert not [x for x in undecided if "a fault of setuplint" in x.message]
    return Effort(size, bytes_of(text), report.work, calls, len(undecided))


def page(efforts: dict[str, list[Effort]]) -> str:
    """The table."""
    lines = [PROSE.format(limit=budget.WORK_A_FILE), "| what grows | size | bytes | work | calls | not decided |"]
    lines.append("| --- | ---: | ---: | ---: | ---: | ---: |")
    for name, row in efforts.items():
        for each in row:
            numbers = " | ".join(f"{number:,}" for number in each)
            lines.append(f"| {name} | {numbers} |")
    return "\n".join(lines) + "\n"


PROSE = """\
# Growth

What a lint costs as one thing in a setup grows, and all else is the reference setup. `python -m tests.growth` makes this page and
its drawing. Work is counted in the units of `setuplint/budget.py`, of which a file may take {limit:,}; calls are those of all
functions, which also see what the budget does not count. Both are counts: they are the same on every machine with the same
Python. *Not decided* are the rules that said so, because the work was spent or a search was too hard. Sizes that the format does
not allow (a curve of 40 points) end as a mistake with a place, and cost next to nothing.

![calls by size, both on a logarithmic scale](growth.svg)
"""


def svg(efforts: dict[str, list[Effort]]) -> str:
    """A small plot for each shape: calls by size, both logarithmic; red where something was not decided."""
    rows = -(-len(efforts) // COLUMNS)
    size = f"0 0 {COLUMNS * WIDTH} {rows * HEIGHT}"
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}" role="img" aria-label="Growth">']
    parts.append(f"<style>{STYLE}</style>")
    for number, (name, row) in enumerate(efforts.items()):
        x, y = number % COLUMNS * WIDTH, number // COLUMNS * HEIGHT
        parts += plot(name, row, x, y)
    return "\n".join([*parts, "</svg>"]) + "\n"


def plot(name: str, row: list[Effort], x: int, y: int) -> Iterator[str]:
    wide, tall = WIDTH - 12, HEIGHT - PAD
    yield f'<text x="{x + 4}" y="{y + 14}">{name}</text><rect x="{x + 4}" y="{y + 18}" width="{wide}" height="{tall}"/>'
    places = []
    for n, each in enumerate(row):
        share = (len(str(each.calls)) - 1 + int(str(each.calls)[:2]) / 100 - LEAST) / (MOST - LEAST)
        places.append((x + 14 + n * (wide - 20) / (len(row) - 1), y + 18 + tall * (1 - min(max(share, 0.02), 0.98))))
    yield f'<polyline points="{" ".join(f"{a:.0f},{b:.0f}" for a, b in places)}"/>'
    for (a, b), each in zip(places, row, strict=True):
        yield f'<circle{" class=" + chr(34) + "cut" + chr(34) if each.undecided else ""} cx="{a:.0f}" cy="{b:.0f}" r="3"/>'


def kept(text: str) -> dict[str, list[Effort]]:
    """The rows that the page has."""
    found: dict[str, list[Effort]] = {}
    for line in text.split(MARK)[0].splitlines():
        name, *numbers = line.strip("| ").split(" | ")
        if name in SHAPES:
            found.setdefault(name, []).append(Effort(*(int(each.replace(",", "")) for each in numbers)))
    return found


if __name__ == "__main__":
    text = (DOCS / "growth.md").read_text(encoding="utf-8")
    found = kept(text) | {name: [effort(SHAPES[name], size) for size in SIZES] for name in sys.argv[1:] or SHAPES}
    found = {name: found[name] for name in SHAPES}
    heavy = text.partition(MARK)
    (DOCS / "growth.md").write_text(page(found) + "".join(heavy[1:]), encoding="utf-8")
    (DOCS / "growth.svg").write_text(svg(found), encoding="utf-8")
