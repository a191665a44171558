"""Whether a setup was proved on the transmitter, by the records that stand beside it: asked where a club wants one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from setuplint.book.asking import WHOLE_FILE, Asking
from setuplint.findings import Finding
from setuplint.setup.fingerprint import fingerprint

MOST_NAMED = 3  # records in one message


def record_missing(ask: Asking) -> Iterator[Finding]:
    """No record of its fingerprint that counts."""
    if ask.records is None:
        return
    against = list(ask.records(ask.setup, ask.today or date.today()))
    if "" in against:
        return
    why = "; ".join(against[-MOST_NAMED:]) or "no record stands beside it"
    said = f"not proved on the transmitter: the fingerprint is {fingerprint(ask.setup)}, and {why}"
    yield ask.finding(WHOLE_FILE, said, ())
