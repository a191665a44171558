"""What channels put out along a stick's travel, as a drawing in text and as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.formats.numbers import decimal, signed
from setuplint.formats.terminal import plain

Output = Fraction | None  # None: not known
HEIGHT = 17  # rows; an odd number has one for the middle
LEFT = 6  # cells before the drawing


def plot_lines(outputs: Sequence[Output], columns: int) -> Iterator[str]:
    """Rows of a drawing of outputs at places spread evenly over the travel. The scale is -100 to +100, or more if needed."""
    last = len(outputs) - 1
    return plot_ways([outputs], columns, [Fraction(200 * n, last) - 100 for n in range(last + 1)])


def plot_ways(ways: Sequence[Sequence[Output]], columns: int, places: Sequence[Fraction]) -> Iterator[str]:
    """The same of several lines, at any places from -100 to +100 in order. What sticks out between two columns is drawn in the
    nearer one."""
    known = [value for outputs in ways for value in outputs if value is not None]
    least, most = min([Fraction(-100), *known]), max([Fraction(100), *known])
    rows = [[" "] * columns for _ in range(HEIGHT)]
    middle = round((most / (most - least)) * (HEIGHT - 1))
    rows[middle] = ["·"] * columns
    for row in rows:
        row[columns // 2] = "·"
    held = [round((place + 100) * (columns - 1) / 200) for place in places]
    at = [Fraction(200 * column, columns - 1) - 100 for column in range(columns)]
    nearest = [min(range(len(places)), key=lambda n, x=x: abs(places[n] - x)) for x in at]  # type: ignore[misc]
    for outputs in ways:
        heights = [None if x is None else round((most - x) / (most - least) * (HEIGHT - 1)) for x in outputs]
        _draw(rows, [heights[n] for n in nearest], [(held[n], height) for n, height in enumerate(heights)])
    labels = {0: signed(most), middle: "0", HEIGHT - 1: signed(least)}
    for number, row in enumerate(rows):
        yield f"{labels.get(number, ''):>{LEFT}} {''.join(row).rstrip()}"
    yield f"{'':>{LEFT}} {'-100'.ljust(columns // 2)}0{'+100'.rjust(columns - columns // 2 - 1)}"


def _draw(rows: list[list[str]], line: Sequence[int | None], all_of_it: Iterable[tuple[int, int | None]]) -> None:
    """A line into rows: its height in each column, and every height that it has somewhere, each with its column."""
    last: int | None = None
    for column, height in enumerate(line):
        if height is not None:
            for between in range(min(height, last) + 1, max(height, last)) if last is not None else ():
                rows[between][column] = "│"  # a jump, or a steep stretch
            rows[height][column] = "●"
        last = height
    for column, height in all_of_it:
        near = [x for x in line[max(column - 1, 0) : column + 2] if x is not None]
        if height is None or (near and min(near) <= height <= max(near)):
            continue
        for between in (
            range(max(near) + 1, height) if near and height > max(near) else range(height + 1, min(near or [0]))
        ):
            rows[between][column] = "│" if rows[between][column] != "●" else "●"
        rows[height][column] = "●"


def csv_table(
    stick: str, places: Sequence[Fraction], numbers: Mapping[str, Sequence[Output]], said: Mapping[str, Sequence[str]]
) -> str:
    """CSV (RFC 4180): a row for each place, columns of numbers (empty: not known), each with its unit in its head, then
    columns of words."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([_safe_cell(stick), *map(_safe_cell, (*numbers, *said))])
    for number, place in enumerate(places):
        values = ["" if column[number] is None else decimal(column[number] or 0, 6) for column in numbers.values()]
        writer.writerow([decimal(place, 6), *values, *(_safe_cell(column[number]) for column in said.values())])
    return text.getvalue()


def _safe_cell(text: str) -> str:
    """A cell that no spreadsheet reads as a formula."""
    shown = plain(text)
    return f"'{shown}" if shown[:1] in ("=", "+", "-", "@") else shown
