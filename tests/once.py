"""What several tests ask for, made once. Nothing here may be changed by who gets it."""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import setuplint
from setuplint.bench import card_model, stages
from setuplint.comparison.changes import CraftChange
from setuplint.findings import Report


@cache
def lint(path: Path) -> Report:
    """A lint of an example."""
    return setuplint.lint(path)


@cache
def lint_text(text: str | bytes, name: str = "<text>") -> Report:
    return setuplint.lint_text(text, name)


@cache
def changes(old: str, new: str) -> tuple[CraftChange, ...]:
    """What a comparison tells of two texts."""
    return tuple(setuplint.compare(setuplint.load_text(old), setuplint.load_text(new)).changes)


@cache
def card(path: Path) -> card_model.Card:
    """The bench card of an example; what extends nothing is all in its text."""
    text = path.read_text(encoding="utf-8")
    return stages.bench_card(setuplint.load(path).model) if "extends" in text else card_of(text)


@cache
def card_of(text: str) -> card_model.Card:
    """The bench card of a text."""
    return stages.bench_card(setuplint.load_text(text).model)


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """No other process of the run is in that folder, so what is made in it is made once for all."""
    with (folder / ".lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
