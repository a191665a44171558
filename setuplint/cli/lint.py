"""`setuplint lint`: findings for every setup among the paths."""

from __future__ import annotations

import argparse
from functools import partial

from setuplint.cli import files, lint_run, run_configs
from setuplint.cli.lint_file import NO_BASELINES, FileOutcome, Job
from setuplint.cli.outputs import Output, OutputWriter, opened_writers, wanted_outputs
from setuplint.cli.progress import Progress
from setuplint.cli.run_configs import Configs
from setuplint.cli.trouble import Trouble, complain
from setuplint.findings import FAIL_ON
from setuplint.formats.passed_over import passed_over_words
from setuplint.formats.summary import Summary, WaiverRemark
from setuplint.hints import TYPE_CHECKING

if TYPE_CHECKING:
    from setuplint.club.baseline import Entry
    from setuplint.club.git_files import GitFiles


def run(args: argparse.Namespace) -> int:
    outputs = wanted_outputs(args)
    _check_options(args, outputs)
    cache = _cache_folder(args)
    tree = run_configs.staged_files() if args.staged else None
    gathered = _gathered(args, tree)
    locations = [candidate.location for candidate in gathered.candidates]
    configs = Configs(locations, args.paths, run_configs.policy_files(args.policy) or tree)
    job = _job(args, outputs, configs, cache)
    total = Summary(
        args.fail_on or FAIL_ON, passed_over=gathered.passed_over, verbose=args.verbose, audit=not job.waive
    )
    if any(output.format == "sarif" for output in outputs):
        total.clubs = run_configs.club_rules(configs, job.rules)
    with opened_writers(outputs) as writers:
        _lint(args, job, gathered, configs, _Output(writers, total), tree)
    if job.cache is not None:
        from setuplint.cli.cache import bound

        bound(job.cache)
    return total.status if total.files or total.troubles else 0


def _gathered(args: argparse.Namespace, tree: GitFiles | None) -> files.Gathered:
    if tree is None:
        return files.gathered(args.paths, args.name or "stdin", sure=not args.only_setups)
    from setuplint.cli.staged import gathered_staged

    return gathered_staged(tree, args.paths, sure=not args.only_setups)


def _lint(
    args: argparse.Namespace,
    job: Job,
    gathered: files.Gathered,
    configs: Configs,
    output: _Output,
    tree: GitFiles | None,
) -> None:
    """Everything that was gathered, into the outputs of the run."""
    total = output.total
    output.add_troubles(gathered.troubles)
    run = lint_run.outcomes if tree is None else partial(lint_run.staged_outcomes, tree=tree)
    for outcome in run(job, gathered.candidates, configs, output.progress):
        output.add(outcome)
    if not (total.files or total.troubles or args.only_setups):
        output.add_troubles([_nothing_checked(total)])
    for use in job.baselines.values():
        from setuplint.cli import baseline_use

        changes = output.baselines.get(use.path, ([], []))
        locations = [candidate.location for candidate in gathered.candidates]
        baseline_use.finish(use, total, locations, *changes, write=args.baseline_write is not None)
    total.remarks += [WaiverRemark(*each[:3], "loosens", each.message) for each in configs.loosened()]
    output.end()


def _check_options(args: argparse.Namespace, outputs: tuple[Output, ...]) -> None:
    """Trouble where options do not go together."""
    if args.write and not args.fix:
        raise Trouble("--write goes with --fix: it writes what that shows")
    if args.fix and not any(output.is_shown and output.format == "text" for output in outputs):
        raise Trouble("--fix shows text: in JSON and SARIF every finding has its edit")
    if args.baseline_write and (args.policy is not None or args.staged):
        raise Trouble("--baseline-write writes the baseline of the work tree: leave out --policy and --staged")
    if args.fix and args.staged:
        raise Trouble("--fix is for the files of the work tree: leave out --staged")
    if args.only_new and all(output.format != "sarif" for output in outputs):
        raise Trouble("--only-new goes with SARIF: in other formats what is known and what is open is only counted")
    if args.write and "-" in args.paths:
        raise Trouble("standard input cannot be written to: leave out --write, or give a file")
    if args.name is not None and "-" not in args.paths:
        raise Trouble("--name is for standard input: give - among the paths")


def _cache_folder(args: argparse.Namespace) -> str | None:
    if args.cache is None:
        return None
    from setuplint.cli import cache

    return cache.checked_folder(args.cache, args.paths)


def _job(args: argparse.Namespace, outputs: tuple[Output, ...], configs: Configs, cache: str | None) -> Job:
    baselines = NO_BASELINES
    texts = configs.rule_texts(args.rules)
    only = run_configs.named_rules(args, configs, texts)
    if args.baseline is not None or any(config.baseline for config in configs.every()):
        from setuplint.cli import baseline_use

        baselines = baseline_use.baseline_uses(args, configs)
    elif args.baseline_write:
        raise Trouble(
            "--baseline-write goes with --baseline, or with a baseline in setuplint.toml: it writes that file"
        )
    return Job(
        outputs,
        only,
        texts,
        args.fail_on,
        args.today,
        waive=not args.no_waivers,
        fix=args.fix,
        write=args.write,
        baselines=baselines,
        paths=tuple(args.paths),
        cache=cache,
        only_new=args.only_new,
    )


class _Output:
    """What a run writes, file by file, and what it comes to: in `total`, and in `baselines` for these."""

    def __init__(self, writers: list[OutputWriter], total: Summary) -> None:
        self.total = total
        self.progress = Progress()
        self.baselines: dict[str, tuple[list[Entry], list[Entry]]] = {}  # what is new and gone, by the baseline's path
        self._writers = writers

    def add(self, outcome: FileOutcome) -> None:
        if any(outcome.texts) or outcome.summary.troubles:
            self.progress.clear()
        for trouble in outcome.summary.troubles:
            complain(trouble)
        for writer, text in zip(self._writers, outcome.texts, strict=bool(outcome.texts)):
            writer.add(text)
        self.total.add(outcome.summary)
        if outcome.baseline is not None:
            new, gone = self.baselines.setdefault(outcome.baseline.path, ([], []))
            new += outcome.new
            gone += outcome.gone

    def add_troubles(self, troubles: list[str]) -> None:
        for trouble in troubles:
            complain(trouble)
        self.total.troubles += troubles

    def end(self) -> None:
        for writer in sorted(self._writers, key=lambda each: not each.output.is_shown):  # standard output first
            writer.end(self.total)


def _nothing_checked(total: Summary) -> str:
    words = passed_over_words(total.passed_over)
    over = f" (passed over: {words})" if words else ""
    return f"no setup among the paths{over}: nothing was checked"
