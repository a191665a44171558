"""The records that stand beside a setup: why each does not prove it on the transmitter. Asked where a club wants one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache

from setuplint.bench.stages import bench_card
from setuplint.book.record_file import BenchRecord, RecordError, read_record
from setuplint.records.checked import RecordCheck, checked_record
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.model import Setup


def objections(records: Mapping[str, bytes], setup: Setup) -> Iterator[str]:
    """Of each record, by its name, what speaks against it; empty where it counts: a box of the card was ticked, and nothing was
    read otherwise."""
    card = cache(lambda: bench_card(setup))  # made for a record that may count
    mark = fingerprint(setup)
    for name, data in records.items():
        try:
            record = read_record(data, name)
        except RecordError as error:
            yield str(error)
            continue
        if record.fingerprint != mark:
            yield f"{name} is of {record.fingerprint}"
        elif not record.done:
            yield f"in {name} no box is ticked"
        else:
            yield _objection(name, record, checked_record(record, setup, card()))


def _objection(name: str, record: BenchRecord, check: RecordCheck) -> str:
    if check.sheet:
        return f"in {name} {check.sheet[0].row} of the sheet was read back otherwise"
    if check.differing or check.unplaced:
        return f"in {name} something reads otherwise than the card says"
    return "" if check.proved else f"in {name} no box of this card is ticked: it is of another card"
