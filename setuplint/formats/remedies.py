"""Mechanical remedies for a person: a unified diff, and those that are only offered."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from difflib import unified_diff

from setuplint.findings import Finding
from setuplint.formats import toml
from setuplint.formats.terminal import Look, plain, wrap

INDENT = "  "


def diff(before: str, after: str, name: str) -> str:
    """The changes as a unified diff. Characters that could drive a terminal are escaped."""
    rows = unified_diff(_toml_lines(before), _toml_lines(after), plain(f"a/{name}"), plain(f"b/{name}"))
    return "".join(map(_safe_row, rows))


def offer_lines(offers: Iterable[tuple[Finding, str]], look: Look) -> Iterator[str]:
    """Remedies that are only offered, each with the reason."""
    for finding, because in offers:
        edit = finding.edit
        if edit is not None:
            path = ".".join(toml.toml_key(step) if isinstance(step, str) else str(step) for step in edit.path)
            text = f"{finding.rule} ({finding.subject}): {path} = {edit.value}; {because}."
            yield from wrap(plain(text), look.width, INDENT, INDENT * 2)


def _toml_lines(text: str) -> list[str]:
    """Split where TOML splits, and nowhere else."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def _safe_row(row: str) -> str:
    body = row.rstrip("\r\n")
    end = row[len(body) :]
    body = "\t".join(map(plain, body.split("\t")))
    return body + (end if end.endswith("\n") else f"{end}\n\\ No newline at end of file\n")
