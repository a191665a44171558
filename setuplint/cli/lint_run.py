"""All files of a run of `setuplint lint`, in their order, by as many processes as are worth starting."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial

from setuplint.cli import files, records
from setuplint.cli.lint_file import FileOutcome, Job, outcome
from setuplint.cli.progress import Progress
from setuplint.cli.run_configs import Configs
from setuplint.hints import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from setuplint.book.radios import RadioRecord
    from setuplint.club.git_files import GitFiles

# Files from which on more than one process is worth starting: more where a new one has to import everything again.
MANY = 8 if sys.platform == "linux" else 32
EACH = 4  # files, at least, for a third process and more
CHUNK = 8  # files, at most, that a process is given at a time


def outcomes(
    job: Job, candidates: Sequence[files.Candidate], configs: Configs, progress: Progress
) -> Iterator[FileOutcome]:
    """Every file's; then those of setups that were not given, but extend a shared part that was: what is changed in one is
    changed in all of them. Nothing is written to these."""
    shared = []
    found = progress.over(in_order(job, candidates, configs, progress), "Linted", len(candidates))
    for candidate, done in zip(candidates, found, strict=True):
        if done.summary.parts:
            shared.append(candidate)
        yield done
    more = files.extending(shared, candidates) if shared else []
    rest = in_order(job._replace(fix=False, write=False), more, configs, progress)
    for done in progress.over(rest, "Linted, of those that extend a shared part", len(more)):
        done.summary.extending = done.summary.files
        yield done


def staged_outcomes(
    job: Job, candidates: Sequence[files.Candidate], configs: Configs, progress: Progress, tree: GitFiles
) -> Iterator[FileOutcome]:
    """The same of what is staged; then those of the other setups of the same radios, which are judged only by what compares
    setups with each other: a change may be at odds with them."""
    from setuplint.cli import staged

    more = staged.extending_staged(tree, candidates)
    beside = staged.radio_neighbours(tree, [*candidates, *more]) if records.compared_by(job.only) else []
    every = [*candidates, *more, *beside]
    found = in_order(job, every, configs, progress, alone=len(beside))
    for number, done in enumerate(progress.over(found, "Linted", len(every))):
        if number >= len(candidates) + len(more):
            done.summary.compare_alone()
        elif number >= len(candidates):
            done.summary.extending = done.summary.files
        yield done


def in_order(
    job: Job, candidates: Sequence[files.Candidate], configs: Configs, progress: Progress, *, alone: int = 0
) -> Iterator[FileOutcome]:
    """Every file's outcome, in the order of the files; the last `alone` of them are judged only by what compares setups."""
    own = [configs.of(candidate.location) for candidate in candidates]
    job = job._replace(keeps=len(candidates) > 1)
    radios: list[str | None] = [None] * len(candidates)
    comparing = records.compared_by(job.only)
    with _mapping(len(candidates)) as mapped:
        if len(candidates) > 1 and comparing:
            survey = mapped(partial(records.radio_record, cache_folder=job.cache, keeps=job.keeps), candidates)
            found: list[RadioRecord | None] = list(progress.over(survey, "Looked at", len(candidates)))
            radios = [record.radio if record else None for record in found]
            job = job._replace(habits=records.usual_on_radios(_as_walked(candidates, found)))
        whole = len(candidates) - alone
        yield from mapped(partial(outcome, job), candidates[:whole], own[:whole], radios[:whole])
        job = job._replace(only=comparing)
        yield from mapped(partial(outcome, job), candidates[whole:], own[whole:], radios[whole:])


def _as_walked(
    candidates: Sequence[files.Candidate], found: Sequence[RadioRecord | None]
) -> Iterator[RadioRecord | None]:
    """Those that are staged in the order of a lint of all, since of two habits that are as usual the first counts."""
    if not any(candidate.tree for candidate in candidates):
        yield from found
        return
    from setuplint.cli import staged

    yield from (found[n] for n in sorted(range(len(found)), key=lambda n: staged.walk_order(candidates[n])))


@contextmanager
def _mapping(count: int) -> Iterator[Callable[..., Iterator[Any]]]:
    """What maps a function over so many files: `map`, or the same by processes."""
    processes = min(_processors(), max(2, count // EACH))
    if count < MANY or processes < 2:
        yield map
        return
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(processes, initializer=_ignore_interrupts) as pool:
        try:
            yield partial(pool.map, chunksize=min(CHUNK, -(-count // (2 * processes))))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _processors() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _ignore_interrupts() -> None:
    """An interrupt at the keyboard reaches every process of the terminal: only the first is to act on it."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
