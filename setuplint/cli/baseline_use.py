"""`setuplint lint --baseline`: known findings are counted, not reported; the baseline is written on request."""

from __future__ import annotations

import argparse
from collections.abc import Collection, Iterable
from typing import NamedTuple

from setuplint.book.choices import Choices
from setuplint.cli import files, whole_files
from setuplint.cli.trouble import Trouble, complain
from setuplint.club.baseline import Baseline, BaselineError, Entry, Sifted, doubtful_rules, read_baseline
from setuplint.findings import Report
from setuplint.formats.summary import BaselineFinding, Summary


class BaselineUse(NamedTuple):
    """What every process needs to know of the baseline of a run."""

    path: str
    grow: bool = False
    fresh: bool = False  # it is to be made

    def entries(self) -> Baseline:
        return Baseline(self.path) if self.fresh else read_baseline(self.path)

    def sift(
        self, report: Report, path: str, by: Choices | None, radios: Iterable[str], only: Collection[str] | None
    ) -> Sifted:
        """One report by the baseline. Findings of rules outside `only` are not reported as gone."""
        unsure = doubtful_rules(report.values, set(radios))
        return self.entries().sift(report, path, by or Choices(), unsure, only, grow=self.grow)


def baseline_use(args: argparse.Namespace) -> BaselineUse | None:
    """The baseline that is named, read once; Trouble where it is none, or not there and not to be made."""
    if args.baseline is None:
        if args.baseline_write:
            raise Trouble("--baseline-write goes with --baseline: it writes that file")
        return None
    if not args.baseline:
        raise Trouble(files.NO_PATH)
    read_baseline.cache_clear()
    grow = args.baseline_write == "grow"
    try:
        read_baseline(args.baseline)
    except FileNotFoundError:
        if not grow:
            raise Trouble(f"there is no {args.baseline}: --baseline-write grow makes it") from None
        return BaselineUse(args.baseline, grow, True)
    except BaselineError as error:
        raise Trouble(str(error)) from None
    return BaselineUse(args.baseline, grow)


def finish(
    use: BaselineUse, total: Summary, seen: Iterable[str], new: list[Entry], gone: list[Entry], *, write: bool
) -> None:
    """Add the entries whose file is gone, and write the baseline if asked to; nothing is written after trouble."""
    baseline = use.entries()
    gone = [*gone, *baseline.lost({baseline.key(path) for path in seen})]
    left = [BaselineFinding(*entry) for entry in sorted(gone)]
    trouble = ""
    if write:
        changed = baseline.changed(use.path, new, gone)
        looked = "" if not total.troubles else "not everything could be looked at"
        trouble = looked or (_write(use, changed) if use.fresh or changed.entries != baseline.entries else "")
    if write and not trouble:
        total.dropped, total.added, total.baseline = left, len(new), use.path
        return
    total.gone += left
    if trouble:
        total.troubles.append(f"{use.path} is not written: {trouble}")
        complain(total.troubles[-1])


def _write(use: BaselineUse, changed: Baseline) -> str:
    """Why it could not be written; empty where it was."""
    try:
        if use.fresh:
            whole_files.create(use.path, changed.text().encode())
        else:
            with open(use.path, "rb") as old:
                before = old.read()
            whole_files.replace(use.path, before, changed.text().encode())
    except OSError as error:
        return error.strerror or str(error)
    return ""
