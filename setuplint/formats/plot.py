"""What channels put out along a stick's travel, as a drawing in text and as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.formats.numbers import decimal, signed
from setuplint.formats.terminal import plain

Output = Fraction | None  # None: not known
HEIGHT = 17  # rows; an odd number has one for the middle
LEFT = 6  # cells before the drawing


def plot_lines(outputs: Sequence[Output], columns: int) -> Iterator[str]:
    """Rows of a drawing of outputs at places spread evenly over the travel. The scale is -100 to +100, or more if needed."""
    known = [value for value in outputs if value is not None]
    least, most = min([Fraction(-100), *known]), max([Fraction(100), *known])
    rows = [[" "] * columns for _ in range(HEIGHT)]
    middle = round((most / (most - least)) * (HEIGHT - 1))
    rows[middle] = ["·"] * columns
    for row in rows:
        row[columns // 2] = "·"
    last: int | None = None
    for column in range(columns):
        value = outputs[round(column * Fraction(len(outputs) - 1, columns - 1))]
        if value is None:
            last = None
            continue
        at = round((most - value) / (most - least) * (HEIGHT - 1))
        for between in range(min(at, last) + 1, max(at, last)) if last is not None else ():
            rows[between][column] = "│"  # a jump, or a steep stretch
        rows[at][column] = "●"
        last = at
    labels = {0: signed(most), middle: "0", HEIGHT - 1: signed(least)}
    for number, row in enumerate(rows):
        yield f"{labels.get(number, ''):>{LEFT}} {''.join(row).rstrip()}"
    yield f"{'':>{LEFT}} {'-100'.ljust(columns // 2)}0{'+100'.rjust(columns - columns // 2 - 1)}"


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
