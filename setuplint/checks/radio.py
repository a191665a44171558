"""Setups of one radio: whether the hand finds the hold, the rescue and the modes in the same place."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.book.asking import Asking
from setuplint.book.radios import calls, otherwise
from setuplint.findings import Finding


def rescue_elsewhere(ask: Asking) -> Iterator[Finding]:
    """No movement that calls the rescue (the hold, a mode) here calls it where it is usual on this radio."""
    if ask.habits:
        for found in otherwise(calls(ask.decider), ask.setup.craft.radio or "", ask.habits):
            yield ask.finding(found.subject, found.message, found.path, related=found.related)
