"""The reference setup with edits, linted; and what one rule says of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from typing import Any

import setuplint
from setuplint.findings import Finding, Report
from tests.rules.edits import REFERENCE, edited

TEXT = REFERENCE.read_text(encoding="utf-8")


def linted(
    edit: Mapping[str, Any] | None = None,
    remove: tuple[str, ...] = (),
    only: Collection[str] | None = None,
    today: date | None = None,
) -> Report:
    return setuplint.lint_text(edited(TEXT, edit or {}, remove), name="reference.toml", only=only, today=today)


def said(rule: str, edit: Mapping[str, Any] | None = None, remove: tuple[str, ...] = ()) -> list[Finding]:
    return list(linted(edit, remove, only=[rule]).findings)


def unjudged(rule: str, edit: Mapping[str, Any] | None = None, remove: tuple[str, ...] = ()) -> list[str]:
    """Why a rule was not judged, on a setup in which it finds nothing."""
    if "craft.motor-off" in remove:  # and with a hover at full travel nothing is certain of the motor
        edit = {"craft.hover-throttle": 100, **(edit or {})}
    report = linted(edit, remove, only=[rule])
    assert not report.findings
    return [note.because for note in report.not_judged]
