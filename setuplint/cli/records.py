"""What is usual on the radios of a run: every set-up is looked at for it before any is judged."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable

from setuplint import library
from setuplint.cli import files
from setuplint.cli.lint_file import kept_answers
from setuplint.hints import TYPE_CHECKING

if TYPE_CHECKING:
    from setuplint.book.radios import Habits, RadioRecord
    from setuplint.engine.kept import Kept


def compared_by(only: Collection[str] | None) -> frozenset[str]:
    """The rules that compare the set-ups of one radio, of those that were asked for."""
    from setuplint.book import run

    return run.comparing_rules(only)


def usual_on_radios(records: Iterable[RadioRecord | None]) -> Habits:
    from setuplint.book import radios

    return radios.habits(record for record in records if record is not None)


def radio_record(
    candidate: files.Candidate, cache_folder: str | None = None, *, keeps: bool = False
) -> RadioRecord | None:
    """What the other setups of its radio need to know of a file; None where that is nothing, or cannot be said: its lint says
    why. Standard input, or a pipe, can be read only once: nothing is compared with it, though it is compared with the rest."""
    try:
        data = files.content(candidate) if candidate.tree or os.path.isfile(candidate.path) else b""
        if (
            len(data) > files.LARGEST
            or not (b"radio" in data or b"\\" in data)
            or not (candidate.sure or files.may_be_setup(data))
        ):
            return None
        return _kept_record(candidate, data, cache_folder, kept_answers() if keeps else None)
    except Exception:
        return None


def _kept_record(
    candidate: files.Candidate, data: bytes, cache_folder: str | None, kept: Kept | None
) -> RadioRecord | None:
    def found() -> RadioRecord | None:
        return library.record(data, candidate.name, files.beside(candidate), kept)

    if cache_folder is None:
        return found()
    from setuplint.book.radios import record_of, record_written
    from setuplint.cli import cache

    slot = cache.slot(cache_folder, "record", candidate, data)
    return cache.kept(slot, found, lambda entry: record_of(entry, candidate.name), record_written)
