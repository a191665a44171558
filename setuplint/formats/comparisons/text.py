"""A comparison for a person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from setuplint.club.policy_changes import PolicyChange
from setuplint.formats.comparison_document import policy_document
from setuplint.formats.document import Block
from setuplint.formats.document_text import document_lines
from setuplint.formats.numbers import counted
from setuplint.formats.passed_over import PassedOver, passed_over_words
from setuplint.formats.summary import CAUTION
from setuplint.formats.terminal import Look, plain, wrap

ROOM = None  # no limit to what is written
between = "\n"
BRIEF = False


def opening(policy: Sequence[PolicyChange], said: str, look: Look) -> str:
    told = list(wrap(plain(said), look.width)) if said else []
    changes = list(document_lines(policy_document(policy, ""), look))
    return "".join(f"{line}\n" for line in [*told, *changes, *([""] if changes else [])])


def written(blocks: Iterable[Block], look: Look) -> str:
    return "\n".join(document_lines(blocks, look)) + "\n"


def closing(
    compared: int, differing: int, troubles: Sequence[str], passed_over: Sequence[PassedOver], look: Look
) -> str:
    over = passed_over_words(passed_over)
    lines = list(wrap(f"Passed over: {over}.", look.width)) if over else []
    if not compared and not troubles:  # as after most commits under a hook
        return "\n".join(["No setup has changed.", *lines, ""])
    if compared != 1:
        lines += wrap(f"{counted(compared, 'setup')} compared, {differing} of them not the same.", look.width)
    for trouble in troubles:
        lines += wrap(f"Not compared: {plain(trouble)}.", look.width)
    return "\n".join([*lines, *wrap(CAUTION, look.width)]) + "\n"
