"""Whether a setup was proved on the transmitter, by the records that stand beside it: asked where a club wants one."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.book.asking import WHOLE_FILE, Asking
from setuplint.findings import Finding
from setuplint.setup.fingerprint import fingerprint

MOST_NAMED = 3  # records in one message


def record_missing(ask: Asking) -> Iterator[Finding]:
    """No record of its fingerprint, in which a box was ticked and nothing read otherwise."""
    if ask.records is None:
        return
    mark = fingerprint(ask.setup)
    against = [record_objection(name, data, mark) for name, data in ask.records.items()]
    if "" in against:
        return
    why = "; ".join(against[-MOST_NAMED:]) or "no record stands beside it"
    yield ask.finding(WHOLE_FILE, f"not proved on the transmitter: the fingerprint is {mark}, and {why}", ())


def record_objection(name: str, data: bytes, mark: str) -> str:
    """Why a record does not prove a setup of that fingerprint; empty where it does."""
    from setuplint.book.record_file import RecordError, read_record  # imports a lot, and few clubs ask

    try:
        record = read_record(data, name)
    except RecordError as error:
        return str(error)
    if record.fingerprint != mark:
        return f"{name} is of {record.fingerprint}"
    if record.differs:
        return f"in {name} something reads otherwise than the card says"
    return "" if record.done else f"in {name} no box is ticked"
