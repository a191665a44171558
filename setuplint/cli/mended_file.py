"""`setuplint lint --fix`: what becomes of a file by its mechanical remedies, shown or written."""

from __future__ import annotations

from collections.abc import Callable

from setuplint.cli import files, whole_files
from setuplint.cli.files import Candidate
from setuplint.findings import Report
from setuplint.fixes import Remedies, remedies
from setuplint.formats.remedies import diff, offer_lines
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.library import load_text
from setuplint.named_tuple import NamedTuple

Only = frozenset[str] | None  # the names of the rules to report; None: all of them


class Mended(NamedTuple):
    """The report of a file as it is now, what to print of its remedies, and what went wrong in writing them."""

    report: Report
    text: str = ""
    trouble: str = ""


def mended_result(
    candidate: Candidate,
    data: bytes,
    report: Report,
    lint: Callable[[bytes, Only], Report],
    only: Only,
    look: Look,
    *,
    write: bool,
) -> Mended:
    """`report` is of `data`, by the rules in `only`; a remedy answers to every rule. Nothing is written but with `write`."""
    if not any(finding.edit for finding in report.findings):
        return Mended(report)

    def by_every_rule(text: bytes) -> Report:
        return lint(text, None)

    beside = files.beside(candidate)
    before = report if only is None else by_every_rule(data)
    found = remedies(data, before, by_every_rule, only, lambda text: load_text(text, report.name, beside).model)
    if not write or not found.applied:
        return Mended(report, _remedies_text(report, data, found, look, "to apply with --write"))
    try:
        whole_files.replace(candidate.path, data, found.data)
    except OSError as error:
        trouble = f"cannot write {report.name}: {error.strerror or error}"
        return Mended(report, _remedies_text(report, data, found, look, "not applied"), trouble)
    after = found.report if only is None else lint(found.data, only)
    return Mended(after, _remedies_text(report, data, found, look, "applied"))


def _remedies_text(report: Report, data: bytes, found: Remedies, look: Look, what: str) -> str:
    lines: list[str] = []
    if found.applied:
        lines += wrap(f"{plain(report.name)}: {_remedy_count(len(found.applied))} {what}:", look.width)
        before, after = data.decode("utf-8-sig"), found.data.decode("utf-8-sig")
        lines += diff(before, after, report.name).split("\n")
    if found.offered:
        lines += wrap(f"{plain(report.name)}: {_remedy_count(len(found.offered))} offered only:", look.width)
        lines += [*offer_lines(found.offered, look), ""]
    return "\n".join([*lines, ""]) if lines else ""


def _remedy_count(number: int) -> str:
    return "1 remedy" if number == 1 else f"{number} remedies"
