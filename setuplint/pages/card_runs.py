"""The runs of a card: each finding in time, moment by moment, with what the channels in question give."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from setuplint.bench.card_model import Reading
from setuplint.engine.answers import Timing
from setuplint.findings import Report
from setuplint.formats.numbers import decimal, json_number
from setuplint.formats.run_moments import run_moments
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.named_tuple import NamedTuple
from setuplint.pages.card_words import CardWords


class RunRow(NamedTuple):
    """What happens at a second, and what the channels then go to, in percent and in words. `danger`: it is there now."""

    at: Fraction
    do: str
    readings: Mapping[str, Fraction]
    cells: tuple[tuple[str, str, str], ...]
    danger: bool

    @property
    def text(self) -> str:
        return f"At {decimal(self.at)}{FIXED_SPACE}s: {self.do}"


class RunText(NamedTuple):
    number: int  # of its box
    rule: str
    signal: str
    message: str
    channels: tuple[str, ...]
    rows: tuple[RunRow, ...]


def card_runs(report: Report, words: CardWords, number: int) -> Iterator[RunText]:
    """The run of each finding that has one, numbered from there on."""
    for finding in report.findings:
        channels = sorted(finding.outputs, key=lambda name: name not in finding.motors)
        rows = []
        for moment in run_moments(words.setup, finding, report.values):
            assert finding.timing is not None
            put = {name: value for name in channels if (value := moment.seen.outputs[name]) is not None}
            cells = tuple(words.cell(Reading((put[name],) if name in put else ())) for name in channels)
            rows.append(RunRow(moment.at, moment.words, put, cells, _is_there(finding.timing, moment.at)))
        if rows:
            yield RunText(number, finding.rule, finding.signal, finding.message, tuple(channels), tuple(rows))
            number += 1


def _is_there(timing: Timing, at: Fraction) -> bool:
    return timing.since <= at and (timing.until is None or at < timing.until)


def run_values(run: RunText) -> dict[str, object]:
    """In JSON."""
    return {
        "number": run.number,
        "rule": run.rule,
        "signal": run.signal,
        "message": run.message,
        "rows": [
            {
                "at": json_number(row.at),
                "do": row.do,
                "danger": row.danger,
                "readings": {name: json_number(value) for name, value in row.readings.items()},
            }
            for row in run.rows
        ],
    }
