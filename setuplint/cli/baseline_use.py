"""`setuplint lint --baseline`: known findings are counted, not reported; the baseline is written on request."""

from __future__ import annotations

import argparse
from collections.abc import Collection, Iterable, Mapping

from setuplint.book.choices import Choices
from setuplint.cli import files, whole_files
from setuplint.cli.run_configs import Configs
from setuplint.cli.trouble import Trouble, complain
from setuplint.club.baseline import Baseline, BaselineError, Entry, Sifted, doubtful_rules, read_baseline
from setuplint.club.config import Config
from setuplint.club.config_sources import DISK
from setuplint.club.git_files import GitFiles, merge_attribute
from setuplint.findings import Report
from setuplint.formats.summary import BaselineFinding, Summary
from setuplint.named_tuple import NamedTuple


class BaselineUse(NamedTuple):
    """What every process needs to know of the baseline of a run."""

    path: str
    grow: bool = False
    fresh: bool = False  # it is to be made
    files: GitFiles | None = None  # the revision that it is read from

    def entries(self) -> Baseline:
        return Baseline(self.path) if self.fresh else read_baseline(self.path, self.files)

    def holds_some_of(self, path: str) -> bool:
        """Whether a file has entries."""
        entries = self.entries()
        return bool(entries.of(entries.key(path)))

    def sift(
        self, report: Report, path: str, by: Choices | None, radios: Iterable[str], only: Collection[str] | None
    ) -> Sifted:
        """One report by the baseline. Findings of rules outside `only` are not reported as gone."""
        unsure = doubtful_rules(report.values, set(radios))
        return self.entries().sift(report, path, by or Choices(), unsure, only, grow=self.grow)


def baseline_uses(args: argparse.Namespace, configs: Configs) -> Mapping[str, BaselineUse]:
    """The baselines of a run, each read once, by the path that a setuplint.toml gives it; one that an option names is under "",
    and the only one. Trouble where one is none, or not there and not to be made."""
    read_baseline.cache_clear()
    grow = getattr(args, "baseline_write", None) == "grow"
    if args.baseline is not None:
        if not args.baseline:
            raise Trouble(files.NO_PATH)
        return {"": _use(args.baseline, grow, configs.files)}
    clubs = dict.fromkeys(config.baseline for config in configs.every() if config.baseline)
    return {path: _use(DISK.shown(path), grow, configs.files, named=True) for path in clubs}


def use_for(named: str | None, config: Config | None, configs: Configs) -> BaselineUse | None:
    """The baseline of a file with that config, or the one that is named; Trouble as of `baseline_uses`."""
    path = named or (config.baseline if config else "")
    return _use(path if named else DISK.shown(path), False, configs.files, named=not named) if path else None


def _use(path: str, grow: bool, revision: GitFiles | None, *, named: bool = False) -> BaselineUse:
    try:
        read_baseline(path, revision)
    except FileNotFoundError:
        if not grow:
            by = "which setuplint.toml names as the baseline" if named else ""
            at = f"{path} {revision.called}" if revision else path
            raise Trouble(f"there is no {', '.join(filter(None, (at, by)))}: --baseline-write grow makes it") from None
        return BaselineUse(path, grow, True)
    except BaselineError as error:
        raise Trouble(str(error)) from None
    return BaselineUse(path, grow, files=revision)


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
        trouble = looked or (_write(use, baseline, changed) if use.fresh or changed.entries != baseline.entries else "")
    if write and not trouble:
        total.dropped, total.added, total.baseline = left, len(new), use.path
        total.attribute = merge_attribute(use.path)
        return
    total.gone += left
    if trouble:
        total.troubles.append(f"{use.path} is not written: {trouble}")
        complain(total.troubles[-1])


def _write(use: BaselineUse, baseline: Baseline, changed: Baseline) -> str:
    """Why it could not be written; empty where it was."""
    try:
        if use.fresh:
            whole_files.create(use.path, changed.text().encode())
        else:
            whole_files.replace(use.path, baseline.data, changed.text().encode())
    except OSError as error:
        return error.strerror or str(error)
    return ""
