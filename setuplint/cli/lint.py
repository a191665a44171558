"""`setuplint lint`: findings for every setup among the paths."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable, Iterator
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from setuplint import formats, library
from setuplint.cli import Trouble, choosing, complain, files
from setuplint.cli.choosing import Configs
from setuplint.cli.console import look
from setuplint.cli.progress import Progress
from setuplint.findings import Finding, Place, Report
from setuplint.formats.summary import Summary, summarise
from setuplint.formats.terminal import Look
from setuplint.setup.texts import Texts
from setuplint.source import Span
from setuplint.source import parsed_document as read_text

if TYPE_CHECKING:
    from setuplint.book.radios import Habits, Record
    from setuplint.cli import cache
    from setuplint.cli.baselining import Known
    from setuplint.club.baseline import Entry
    from setuplint.club.config import Config

FAIL_ON = "caution"  # where neither the command nor setuplint.toml says
MANY = 64  # files from which on more than one process is worth starting
CHUNK = 8


class Job(NamedTuple):
    """What is the same for every file of a run."""

    format: str
    look: Look
    only: frozenset[str] | None
    rules: tuple[Path, ...]
    fail_on: str | None  # None: as each file's setuplint.toml has it
    today: date | None
    waive: bool = True
    fix: bool = False
    write: bool = False
    habits: Habits | None = None  # what is usual on the radios of the setups of a run
    baseline: Known | None = None
    paths: tuple[str, ...] = ()  # as given: a shared part among them tells its own mistakes
    cache: str | None = None  # the folder in which clean results are kept


class Done(NamedTuple):
    """One file's part of the output, and its counts."""

    text: str
    summary: Summary
    new: tuple[Entry, ...] = ()  # put into the baseline
    gone: tuple[Entry, ...] = ()  # in the baseline, and found no more


def run(args: argparse.Namespace) -> int:
    job = Job(args.format, look(), None, tuple(map(Path, args.rules)), args.fail_on, args.today, not args.no_waivers)
    job = job._replace(paths=tuple(args.paths))
    if args.fix or args.write:
        _can_fix(args)
        job = job._replace(fix=True, write=args.write)
    if args.cache is not None:
        from setuplint.cli import cache

        job = job._replace(cache=cache.checked(args.cache, args.paths))
    if args.name is not None and "-" not in args.paths:
        raise Trouble("--name is for standard input: give - among the paths")
    gathered = files.gather(args.paths, args.name or "stdin", sure=not args.only_setups)
    configs = Configs()
    for candidate in gathered.candidates:
        configs.of(candidate.path or candidate.name)
    job = job._replace(only=choosing.only(args, configs))
    total = Summary(args.fail_on or FAIL_ON, links=gathered.links, troubles=gathered.troubles, audit=not job.waive)
    for trouble in gathered.troubles:
        complain(trouble)
    if args.format == "sarif":
        total.clubs = choosing.clubs(configs, args.rules)
    if args.baseline or args.baseline_write:
        from setuplint.cli import baselining

        job = job._replace(baseline=baselining.known(args))
    writer = formats.writer(job.format, job.look)
    new: list[Entry] = []
    gone: list[Entry] = []
    progress = Progress()
    for done in everything(job, gathered.candidates, configs, progress):
        new += done.new
        gone += done.gone
        text = writer.add(done.text)
        if text or done.summary.troubles:
            progress.clear()
        for trouble in done.summary.troubles:
            complain(trouble)
        sys.stdout.write(text)
        total.add(done.summary)
    if not total.files and not total.troubles and not args.only_setups:
        total.troubles.append(_nothing(total))
        complain(total.troubles[-1])
    if job.baseline is not None:
        seen = [candidate.path or candidate.name for candidate in gathered.candidates]
        baselining.finish(job.baseline, total, seen, new, gone, write=args.baseline_write is not None)
    sys.stdout.write(writer.end(total))
    return total.status if total.files or total.troubles else 0


def _can_fix(args: argparse.Namespace) -> None:
    """Trouble where remedies cannot be shown or written as asked."""
    if not args.fix:
        raise Trouble("--write goes with --fix: it writes what that shows")
    if args.format != "text":
        raise Trouble("--fix shows text: in JSON and SARIF every finding has its edit")
    if args.write and "-" in args.paths:
        raise Trouble("standard input cannot be written to: leave out --write, or give a file")


def everything(job: Job, candidates: list[files.Candidate], configs: Configs, progress: Progress) -> Iterator[Done]:
    """Every file's result; then those of setups that were not given, but extend a shared part that was: what is changed in
    one is changed in all of them. Nothing is written to these."""
    parts = []
    found = progress.over(results(job, candidates, configs, progress), "Linted", len(candidates))
    for candidate, done in zip(candidates, found, strict=True):
        if done.summary.parts:
            parts.append(candidate)
        yield done
    more = files.extending(parts, candidates) if parts else []
    rest = results(job._replace(fix=False, write=False), more, configs, progress)
    for done in progress.over(rest, "Linted, of those that extend a shared part", len(more)):
        done.summary.extending = done.summary.files
        yield done


def results(job: Job, candidates: list[files.Candidate], configs: Configs, progress: Progress) -> Iterator[Done]:
    """Every file's result, in the order of the files, by as many processes as there are cores where there are many."""

    def surveyed(found: Iterable[Record | None]) -> Iterator[Record | None]:
        return progress.over(found, "Looked at", len(candidates))

    own = [configs.of(candidate.path or candidate.name) for candidate in candidates]
    look_at = partial(survey, cached=job.cache)
    if len(candidates) <= MANY:
        job = job._replace(habits=usual(job, candidates, surveyed(map(look_at, candidates))))
        yield from map(partial(analyse, job), candidates, own)
        return
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(max_workers=os.cpu_count(), initializer=_worker) as pool:
        try:
            job = job._replace(habits=usual(job, candidates, surveyed(pool.map(look_at, candidates, chunksize=CHUNK))))
            yield from pool.map(partial(analyse, job), candidates, own, chunksize=CHUNK)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def usual(job: Job, candidates: list[files.Candidate], surveyed: Iterable[Record | None]) -> Habits | None:
    """What is usual on each radio, once every setup was looked at; nothing where nothing can be compared."""
    from setuplint.book import radios, run

    if len(candidates) < 2 or not run.compares(job.only):
        return None
    return radios.habits(record for record in surveyed if record is not None)


def survey(candidate: files.Candidate, cached: str | None = None) -> Record | None:
    """What the other setups of its radio need to know of a file; nothing where it cannot be told: `analyse` says why.
    Standard input, or a pipe, can be read only once: nothing is compared with it, though it is compared with the rest."""
    try:
        data = files.read(candidate) if os.path.isfile(candidate.path) else b""
        if len(data) > files.LARGEST or b"radio" not in data or not (candidate.sure or files.may_be_setup(data)):
            return None
        return _recorded(cached, candidate, data)
    except Exception:
        return None


def _recorded(cached: str | None, candidate: files.Candidate, data: bytes) -> Record | None:
    if cached is None:
        return library.record(data, candidate.name, files.beside(candidate))
    from setuplint.book import radios
    from setuplint.cli import cache

    kept, texts = cache.opened(cached), cache.texts(candidate, data)
    if kept is None or texts is None:
        return library.record(data, candidate.name, files.beside(candidate))
    key = cache.key("record", texts)
    entry = kept.get(key)
    if entry is not None:
        return radios.record_of(entry, candidate.name)
    found = library.record(data, candidate.name, files.beside(candidate))
    kept.put(key, radios.record_written(found))
    return found


def _worker() -> None:
    """An interrupt at the keyboard reaches every process of the terminal: only the first is to act on it."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)


def analyse(job: Job, candidate: files.Candidate, config: Config | None = None) -> Done:
    """One file, whatever is in it: what goes wrong with it is told, and stops no other."""
    fail_on = job.fail_on or (config.fail_on if config else None) or FAIL_ON
    try:
        data = files.read(candidate)
        if not candidate.sure and not files.may_be_setup(data):
            return _passed_over(job, candidate)
        known = _kept(job, candidate, config, data)
        if known is not None:
            return Done(formats.named(job.format).part(known, job.look, fail_on), summarise(known, fail_on))
        report = _once(_judged(job, candidate, config, data), job.paths)
        document = report.document
        if not candidate.sure and not files.is_setup(document.values, document.broken, readable=not document.problems):
            return _passed_over(job, candidate)
        remedies = ""
        troubles: list[str] = []
        if job.fix and any(finding.edit for finding in report.findings):
            report, remedies, troubles = _fixed(job, candidate, config, data, report)
        new: tuple[Entry, ...] = ()
        gone: tuple[Entry, ...] = ()
        if job.baseline is not None:
            by, radios = choosing.choices(config, job.rules, job.waive), job.habits or ()
            report, gone, new = job.baseline.sift(report, candidate.path or candidate.name, by, radios, job.only)
        text = formats.named(job.format).part(report, job.look, fail_on) + remedies
        return Done(text, summarise(report, fail_on, troubles), new, gone)
    except OSError as error:
        return _trouble(files.cannot_read(candidate.name, error))
    except Exception as error:
        return _trouble(f"{candidate.name}: this is a fault of setuplint, please report it: {_where(error)}")


def _key(job: Job, candidate: files.Candidate, config: Config | None, data: bytes) -> tuple[cache.Cache, bytes] | None:
    """Where the result of a file is kept, and under what; None where it is not."""
    if job.cache is None or job.baseline is not None or job.only is not None or job.fix or len(data) > files.LARGEST:
        return None
    from setuplint.cli import cache

    base, texts = cache.opened(job.cache), cache.texts(candidate, data)
    if base is None or texts is None:
        return None
    rules = cache.judged_by(config, job.rules, job.waive)
    return base, cache.key("clean", texts, rules, cache.usual(base, texts, job.habits))


def _kept(job: Job, candidate: files.Candidate, config: Config | None, data: bytes) -> Report | None:
    """What is known of a clean file from before."""
    found = _key(job, candidate, config, data)
    if found is None:
        return None
    from setuplint.cli import cache

    entry = found[0].get(found[1])
    return None if entry is None else cache.report_of(candidate.name, entry)


def _judged(job: Job, candidate: files.Candidate, config: Config | None, data: bytes) -> Report:
    """The lint of a file; a clean one is kept."""
    report = _report(job, candidate, config, data)
    found = _key(job, candidate, config, data) if job.cache is not None else None
    if found is not None:
        from setuplint.cli import cache

        if cache.clean(report) and files.may_be_setup(data):
            found[0].put(found[1], cache.written(report))
    return report


def _report(job: Job, candidate: files.Candidate, config: Config | None, data: bytes) -> Report:
    if len(data) > files.LARGEST:
        return too_large(candidate.name)
    return library.lint_text(
        data,
        name=candidate.name,
        only=job.only,
        choices=choosing.choices(config, job.rules, job.waive),
        today=job.today,
        habits=job.habits,
        beside=files.beside(candidate),
    )


def _fixed(
    job: Job, candidate: files.Candidate, config: Config | None, data: bytes, report: Report
) -> tuple[Report, str, list[str]]:
    """The report that holds when its remedies are shown or written, what is said of them, and what went wrong."""
    from setuplint.cli import fixing

    whole = job._replace(only=None)  # whatever is reported, a remedy answers to every rule

    def lint(text: bytes) -> Report:
        return _report(whole, candidate, config, text)

    before = report if job.only is None else lint(data)
    fixed = fixing.fix(candidate, data, before, lint, job.only, job.look, write=job.write)
    if fixed.data != data:
        report = _report(job, candidate, config, fixed.data)
    return report, fixed.text, [fixed.trouble] if fixed.trouble else []


def _once(report: Report, paths: tuple[str, ...]) -> Report:
    """Without the mistakes that a shared part of the run tells itself."""
    told = [document.name for document in report.texts.shared if files.among(document.name, paths)]
    if not told or not any(report.where(finding.primary).name in told for finding in report.findings):
        return report
    from setuplint.book.part_mistakes import without

    return without(report, told)


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


def _where(error: Exception) -> str:
    from traceback import extract_tb

    last = extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__}: {error} ({os.path.basename(last.filename)}:{last.lineno})"


def _passed_over(job: Job, candidate: files.Candidate) -> Done:
    """A file that is no setup: what a baseline holds of it is gone."""
    entries = job.baseline.entries() if job.baseline else None
    gone = tuple(entries.of(entries.key(candidate.path or candidate.name))) if entries else ()
    return Done("", Summary(passed_over=1), gone=gone)


def _trouble(text: str) -> Done:
    return Done("", Summary(troubles=[text]))


def _nothing(total: Summary) -> str:
    over = f" (other TOML files passed over: {total.passed_over})" if total.passed_over else ""
    return f"no setup among the paths{over}: nothing was checked"
