"""`setuplint lint --fix`: what becomes of a file by its mechanical remedies, shown or written."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import NamedTuple

from setuplint.cli import files, whole_files
from setuplint.cli.files import Candidate
from setuplint.findings import Report
from setuplint.fixes import Remedies, remedies
from setuplint.formats.remedies import diff, offered
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.library import load_text


class Fixed(NamedTuple):
    """What to print, the file's bytes as they are now, and what went wrong in writing them."""

    text: str
    data: bytes
    trouble: str = ""


def fix(
    candidate: Candidate,
    data: bytes,
    report: Report,
    lint: Callable[[bytes], Report],
    only: Collection[str] | None,
    look: Look,
    *,
    write: bool,
) -> Fixed:
    """`report` is of `data`, `lint` and it are by every rule; nothing is written but with `write`."""
    beside = files.beside(candidate)
    found = remedies(data, report, lint, only, lambda text: load_text(text, report.name, beside).model)
    if not write or not found.applied:
        return Fixed(_shown(report, data, found, look, "to apply with --write"), data)
    try:
        whole_files.replace(candidate.path, data, found.data)
    except OSError as error:
        because = f"cannot write {report.name}: {error.strerror or error}"
        return Fixed(_shown(report, data, found, look, "not applied"), data, because)
    return Fixed(_shown(report, data, found, look, "applied"), found.data)


def _shown(report: Report, data: bytes, found: Remedies, look: Look, what: str) -> str:
    lines: list[str] = []
    if found.applied:
        lines += wrap(f"{plain(report.name)}: {_counted(len(found.applied))} {what}:", look.width)
        lines += diff(_text(data), _text(found.data), report.name).split("\n")
    if found.offered:
        lines += wrap(f"{plain(report.name)}: {_counted(len(found.offered))} offered only:", look.width)
        lines += [*offered(found.offered, look), ""]
    return "\n".join([*lines, ""]) if lines else ""


def _counted(number: int) -> str:
    return "1 remedy" if number == 1 else f"{number} remedies"


def _text(data: bytes) -> str:
    return data.decode("utf-8-sig")
