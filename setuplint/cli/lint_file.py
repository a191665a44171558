"""One file of a run of `setuplint lint`: read, judged, mended, compared with the baseline, and written down."""

from __future__ import annotations

import os
from collections.abc import Mapping
from functools import cache

from setuplint import library
from setuplint.cli import files, run_configs
from setuplint.cli.console import stdout_look
from setuplint.cli.outputs import Output
from setuplint.dataclass import replace
from setuplint.findings import FAIL_ON, Finding, Place, Report
from setuplint.formats import reports
from setuplint.formats.passed_over import NO_SETUP, TOO_LARGE, PassedOver
from setuplint.formats.summary import Summary, summary_of
from setuplint.hints import TYPE_CHECKING
from setuplint.named_tuple import NamedTuple
from setuplint.setup.texts import Texts
from setuplint.source import Span
from setuplint.source import parsed_document as read_text

if TYPE_CHECKING:
    from datetime import date

    from setuplint.book.club_rules import RuleText
    from setuplint.book.radios import Habits
    from setuplint.cli.baseline_use import BaselineUse
    from setuplint.cli.cache import Slot
    from setuplint.cli.mended_file import Mended
    from setuplint.club.baseline import Entry
    from setuplint.club.config import Config
    from setuplint.engine.kept import Kept

NO_BASELINES: Mapping[str, BaselineUse] = {}


class Job(NamedTuple):
    """What is the same for every file of a run."""

    outputs: tuple[Output, ...]
    only: frozenset[str] | None = None
    rules: tuple[RuleText, ...] = ()
    fail_on: str | None = None  # as each file's setuplint.toml has it
    today: date | None = None
    waive: bool = True
    fix: bool = False
    write: bool = False
    habits: Habits | None = None  # what is usual on the radios of the setups of a run
    baselines: Mapping[str, BaselineUse] = NO_BASELINES  # by the path that a setuplint.toml gives; "": the one for all
    paths: tuple[str, ...] = ()  # as given: a shared part among them reports its own mistakes
    cache: str | None = None  # the folder in which clean results are kept
    keeps: bool = False  # answers, for the files that a process judges after
    only_new: bool = False  # in SARIF, nothing that is suppressed or open

    def baseline(self, config: Config | None) -> BaselineUse | None:
        """The baseline of a file with that config."""
        return self.baselines.get("", self.baselines.get(config.baseline) if config else None)


class LintedFile(NamedTuple):
    """One file: its content, what holds for it, and the radio that its record names (None: none that is known)."""

    candidate: files.Candidate
    config: Config | None
    radio: str | None
    data: bytes


class FileOutcome(NamedTuple):
    """One file's part of the output, and its counts."""

    texts: tuple[str, ...]  # for each output of the job; or none at all
    summary: Summary
    new: tuple[Entry, ...] = ()  # put into the baseline
    gone: tuple[Entry, ...] = ()  # in the baseline, and found no more
    baseline: BaselineUse | None = None


def outcome(
    job: Job, candidate: files.Candidate, config: Config | None = None, radio: str | None = None
) -> FileOutcome:
    """One file, whatever is in it: what goes wrong with it is reported, and stops no other."""
    try:
        return _outcome(job, LintedFile(candidate, config, radio, files.content(candidate)))
    except OSError as error:
        return _trouble(files.cannot_read(candidate.name, error))
    except Exception as error:
        return _trouble(f"{candidate.name}: this is a fault of setuplint, please report it: {_fault(error)}")


def _outcome(job: Job, source: LintedFile) -> FileOutcome:
    config, path = source.config, source.candidate.location
    report = kept_report(job, source)
    use = job.baseline(config)
    if report is None:
        return _passed_over(use, source)
    report = with_mistakes_once(report, job.paths)
    remedies = trouble = ""
    new: tuple[Entry, ...] = ()
    gone: tuple[Entry, ...] = ()
    if job.fix:
        report, remedies, trouble = _mended(job, source, report)
    if use is not None:  # of the text as it is by now
        by = run_configs.file_choices(config, job.rules, job.waive)
        report, gone, new = use.sift(report, path, by, job.habits or (), job.only)
    fail_on = job.fail_on or (config.fail_on if config else None) or FAIL_ON
    texts = tuple(
        section(job, output, report, fail_on) + (remedies if output.is_shown else "") for output in job.outputs
    )
    return FileOutcome(texts, summary_of(report, fail_on, filter(None, [trouble])), new, gone, use)


def section(job: Job, output: Output, report: Report, fail_on: str) -> str:
    """A report in one of the outputs."""
    if job.only_new and output.format == "sarif":
        report = replace(report, waived=(), baselined=(), not_judged=())
    return reports.report_format(output.format).section(report, output.look, fail_on)


def kept_report(job: Job, source: LintedFile) -> Report | None:
    """The lint of a file, from the cache where it is there; None where it is no setup, and was not named."""
    sure = source.candidate.sure
    large = len(source.data) > files.LARGEST
    if not sure and not (files.is_setup_text if large else files.may_be_setup)(source.data):
        return None

    def judged() -> Report | None:
        found = judged_text(job, source, source.data)
        ours = sure or large or files.holds_setup(found.document) or found.texts.is_shared_file
        return found if ours else None

    if job.cache is None:
        return judged()
    from setuplint.cli import cache as files_cache

    parsed, written = files_cache.parsed_report, files_cache.report_data
    return files_cache.kept(
        _slot(job, source, job.cache), judged, lambda entry: parsed(source.candidate.name, entry), written
    )


def _slot(job: Job, source: LintedFile, folder: str) -> Slot | None:
    """Where the report of a clean file is kept; None where this run needs more than that."""
    use = job.baseline(source.config)
    known = use is not None and use.holds_some_of(source.candidate.location)
    if known or job.only is not None or job.fix or len(source.data) > files.LARGEST:
        return None
    from setuplint.cli import cache

    rules = cache.judged_by(source.config, job.rules, job.waive)
    usual = cache.usual_text(job.habits or {}, source.radio)
    asked = source.config is not None and source.config.require_record
    records = repr(sorted(files.beside(source.candidate).records().items())).encode() if asked else b""
    return cache.slot(folder, "report", source.candidate, source.data, rules, usual, records)


def judged_text(job: Job, source: LintedFile, data: bytes) -> Report:
    """The lint of a text, the file's own or another in its place."""
    name = source.candidate.name
    if len(data) > files.LARGEST:
        return too_large(name)
    return library.lint_text(
        data,
        name=name,
        only=job.only,
        choices=run_configs.file_choices(source.config, job.rules, job.waive),
        today=job.today,
        habits=job.habits,
        beside=files.beside(source.candidate),
        kept=kept_answers() if job.keeps else None,
    )


@cache
def kept_answers() -> Kept:
    """What this process answered of the files before."""
    from setuplint.engine.kept import Kept

    return Kept()


def too_large(name: str) -> Report:
    """A file that no setup can be is not read."""
    finding = Finding(
        "not-a-setup",
        "caution",
        f"the file has more than {files.LARGEST:,} bytes: it is not read, and nothing in it was checked",
        "",
        Place(span=Span(0, 0)),
        remedy="A setup with everything the format allows is far smaller. Give the setup's own file.",
    )
    return Report(name, Texts(read_text("", name)), (finding,))


def with_mistakes_once(report: Report, paths: tuple[str, ...]) -> Report:
    """Without the mistakes that a shared part of the run reports itself."""
    shared = [document.name for document in report.texts.shared if files.is_among(document.name, paths)]
    if not shared or not any(report.where(finding.primary).name in shared for finding in report.findings):
        return report
    from setuplint.book.part_mistakes import without_part_mistakes

    return without_part_mistakes(report, shared)


def _mended(job: Job, source: LintedFile, report: Report) -> Mended:
    """What becomes of the file by its remedies."""
    from setuplint.cli.mended_file import mended_result

    def lint(text: bytes, only: frozenset[str] | None) -> Report:
        return judged_text(job._replace(only=only), source, text)

    return mended_result(source.candidate, source.data, report, lint, job.only, stdout_look(), write=job.write)


def _passed_over(use: BaselineUse | None, source: LintedFile) -> FileOutcome:
    """A file that is no setup: what a baseline holds of it is gone."""
    entries = use.entries() if use else None
    gone = tuple(entries.of(entries.key(source.candidate.location))) if entries else ()
    because = TOO_LARGE if len(source.data) > files.LARGEST else NO_SETUP
    passed_over = [PassedOver(source.candidate.name, because)]
    return FileOutcome((), Summary(passed_over=passed_over), gone=gone, baseline=use)


def _trouble(text: str) -> FileOutcome:
    return FileOutcome((), Summary(troubles=[text]))


def _fault(error: Exception) -> str:
    """What it is, and where it was raised."""
    from traceback import extract_tb

    last = extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__}: {error} ({os.path.basename(last.filename)}:{last.lineno})"
