"""`setuplint report`: one self-contained page for a set-up; for several, a folder of them with an index."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from setuplint import library
from setuplint.cli import Trouble, files, single
from setuplint.findings import Report
from setuplint.formats.html import page, table, tag, text
from setuplint.formats.report_html import report_page, verdict
from setuplint.formats.summary import CAUTION


def run(args: argparse.Namespace) -> int:
    gathered = files.gather(args.paths, "stdin")
    if gathered.troubles:
        raise Trouble(gathered.troubles[0])
    if len(gathered.candidates) == 1 and gathered.candidates[0].sure:
        _, made = _made(gathered.candidates[0])
        single.write(args.out, made)
        return 0
    if args.out is None:
        raise Trouble("several set-ups make several pages: give a folder for them with --out")
    return _folder(gathered.candidates, Path(args.out))


def _folder(candidates: list[files.Candidate], folder: Path) -> int:
    rows: list[list[str]] = []
    names: set[str] = set()
    for candidate in candidates:
        data = _read(candidate)
        if not candidate.sure and not _is_setup(data):
            continue
        report, made = _made(candidate)
        if report.texts.part and not candidate.sure:
            continue
        name = _name(candidate.name, names)
        single.write(str(folder / name), made)
        rows.append([tag("a", text(candidate.name), href=name), verdict(report), text(str(len(report.not_judged)))])
    if not rows:
        raise Trouble("no setup among the paths: nothing was written")
    body = tag("h1", "Set-ups") + tag("p", text(CAUTION), class_="careful")
    body += table(["Set-up", "Found", "Not judged"], rows, "Each with a page of its own")
    single.write(str(folder / "index.html"), page("Set-ups: reports", tag("main", body)))
    return 0


def _name(path: str, taken: set[str]) -> str:
    """A file name for a set-up's page, another for each."""
    stem = "-".join(filter(None, (part for part in Path(path).with_suffix("").parts if part not in ("..", os.sep))))
    safe = "".join(char if char.isalnum() or char in "-_." else "-" for char in stem) or "setup"
    name, number = f"{safe}.html", 2
    while name.lower() in taken or name == "index.html":
        name, number = f"{safe}-{number}.html", number + 1
    taken.add(name.lower())
    return name


def _read(candidate: files.Candidate) -> bytes:
    return single.read(candidate.path)[1]


def _is_setup(data: bytes) -> bool:
    if not files.may_be_setup(data):
        return False
    document = library.load_text(data).document
    return files.is_setup(document.values, document.broken, readable=not document.problems)


def _made(candidate: files.Candidate) -> tuple[Report, str]:
    data = _read(candidate)
    beside = files.beside(candidate)
    report = library.lint_text(data, candidate.name, beside=beside)
    return report, report_page(report, library.load_text(data, candidate.name, beside).model)
