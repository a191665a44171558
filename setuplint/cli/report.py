"""`setuplint report`: one self-contained page for a set-up; for several, a folder of them with an index."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from setuplint import library
from setuplint.cli import files, records, run_configs, single_setup
from setuplint.cli.progress import Progress
from setuplint.cli.trouble import Trouble
from setuplint.findings import Report
from setuplint.pages.report import IndexEntry, index_page, report_page

if TYPE_CHECKING:
    from setuplint.book.radios import Habits


def run(args: argparse.Namespace) -> int:
    gathered = files.gathered(args.paths, "stdin")
    if gathered.troubles:
        raise Trouble(gathered.troubles[0])
    configs = run_configs.Configs(paths=args.paths)
    if len(gathered.candidates) == 1 and gathered.candidates[0].sure:
        _, made, _ = _page(gathered.candidates[0], configs, None)
        single_setup.write_page(args.out, made)
        return 0
    if args.out is None:
        raise Trouble("several set-ups make several pages: give a folder for them with --out")
    return _write_folder(gathered.candidates, Path(args.out), configs)


def _write_folder(candidates: list[files.Candidate], folder: Path, configs: run_configs.Configs) -> int:
    """What `lint` says of the same paths, as pages: the set-ups of one radio are compared with each other too."""
    progress = Progress()
    entries: list[IndexEntry] = []
    names: set[str] = set()
    surveyed = progress.over(map(records.radio_record, candidates), "Looked at", len(candidates))
    habits = records.usual_on_radios(surveyed)
    for candidate in progress.over(candidates, "Reports", len(candidates)):
        if not candidate.sure and not files.is_setup_text(_content(candidate)):
            continue
        report, made, craft = _page(candidate, configs, habits)
        if report.texts.is_shared_file and not candidate.sure:
            continue
        name = _page_name(candidate.name, names)
        single_setup.write_page(str(folder / name), made)
        entries.append(IndexEntry(report, craft, name))
    if not entries:
        raise Trouble("no setup among the paths: nothing was written")
    single_setup.write_page(str(folder / "index.html"), index_page(entries))
    return 0


def _page_name(path: str, taken: set[str]) -> str:
    """A file name for a set-up's page, another for each."""
    stem = "-".join(filter(None, (part for part in Path(path).with_suffix("").parts if part not in ("..", os.sep))))
    safe = "".join(char if char.isalnum() or char in "-_." else "-" for char in stem) or "setup"
    name, number = f"{safe}.html", 2
    while name.lower() in taken or name == "index.html":
        name, number = f"{safe}-{number}.html", number + 1
    taken.add(name.lower())
    return name


def _content(candidate: files.Candidate) -> bytes:
    return single_setup.name_and_content(candidate.path)[1]


def _page(candidate: files.Candidate, configs: run_configs.Configs, habits: Habits | None) -> tuple[Report, str, str]:
    """The report, its page, and what the craft is called."""
    data = _content(candidate)
    beside = files.beside(candidate)
    choices = run_configs.checked_choices(configs.of(candidate.location))
    setup = library.load_text(data, candidate.name, beside)
    report = library.lint_loaded(setup, beside, choices, habits=habits)
    return report, report_page(report, setup.model, choices.rules), setup.name
