"""Whether a setup was proved on the transmitter, by the records that stand beside it: asked where a club wants one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from setuplint.book.asking import WHOLE_FILE, Asking
from setuplint.findings import Finding, Place, Remark
from setuplint.setup.fingerprint import fingerprint

MOST_NAMED = 3  # records in one message


def record_missing(ask: Asking) -> Iterator[Finding]:
    """No record of its fingerprint that counts. Of one that counts it is told what it leaves open."""
    if ask.records is None:
        return
    proof = ask.records(ask.setup, ask.today or date.today())
    if proof.by and proof.proved < proof.boxes:
        said = f"{proof.by} proves {proof.proved} of {proof.boxes} boxes of the bench card, the others are open"
        ask.remarks.append(Remark("partly-proved", said, Place()))
    if proof.by:
        return
    why = "; ".join(proof.against[-MOST_NAMED:]) or "no record stands beside it"
    said = f"not proved on the transmitter: the fingerprint is {fingerprint(ask.setup)}, and {why}"
    yield ask.finding(WHOLE_FILE, said, ())
