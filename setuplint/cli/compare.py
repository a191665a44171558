"""`setuplint compare`: what a craft does differently, between two files or since a revision, and what it is judged by."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Mapping, Sequence
from importlib import import_module

from setuplint import library
from setuplint.budget import Spent, for_one_of_two
from setuplint.cli import baseline_use, run_configs, since
from setuplint.cli.console import expect_document, stdout_look, write_out
from setuplint.cli.outputs import address
from setuplint.cli.progress import Progress
from setuplint.cli.run_configs import Configs
from setuplint.cli.since import Read, SideText
from setuplint.cli.trouble import TROUBLE, Trouble, complain
from setuplint.club.policy_changes import PolicyChange
from setuplint.comparison.changes import Comparison
from setuplint.comparison.gaps import new_hazards
from setuplint.comparison.result import compare
from setuplint.findings import SIGNALS, Report
from setuplint.formats.change_words import joint_controls
from setuplint.formats.comparison_document import ComparedSetup, compared_setup, comparison_document, told_once
from setuplint.formats.passed_over import PassedOver
from setuplint.formats.terminal import Look
from setuplint.named_tuple import NamedTuple

DIFFERENCE = "difference"
FROM = "PRE_COMMIT_FROM_REF"


class Judging(NamedTuple):
    """By what both sides are judged; `baseline` is one that an option names."""

    configs: Configs
    baseline: str | None = None

    def report(self, text: SideText, setup: library.Setup, path: str, spent: Spent | None) -> Report:
        """By what one setup is judged, within what may be spent on it."""
        config = self.configs.of(path) if path else None
        return library.lint_loaded(setup, text.beside, run_configs.checked_choices(config), spent=spent)

    def sifted(self, report: Report, path: str) -> Report:
        """With what the baseline holds kept apart."""
        config = self.configs.of(path) if path else None
        use = baseline_use.use_for(self.baseline, config, self.configs)
        return report if use is None else use.sift(report, path, run_configs.checked_choices(config), (), None).report


def run(args: argparse.Namespace) -> int:
    pairs, policy, said, side, passed_over = _compared_sides(args)
    judging = Judging(Configs(paths=args.paths, files=run_configs.policy_files(args.policy) or side), args.baseline)
    output = _ComparisonOutput(args.format, stdout_look()._replace(link=address(args.link_to)))
    differing = failing = 0
    output.open(policy, said)
    for read in output.progress.over(pairs, "Comparing"):
        try:
            comparison, reports, values = comparison_of(*read(), judging)
        except Trouble as trouble:
            output.progress.clear()
            complain(str(trouble))
            output.troubles.append(str(trouble))
            continue
        output.add(comparison, reports, values)
        differing += comparison.differs
        failing += is_failing(comparison, args.fail_on)
        if comparison.open and not comparison.differs:  # what was not compared may differ: that is not "the same"
            output.troubles.append(f"{comparison.new}: not everything could be compared")
        elif len(reports) == 2 and all(report.texts.is_unread for report in reports):
            output.troubles.append(f"{comparison.new}: nothing of it can be read")
    output.close(differing, passed_over)
    return TROUBLE if output.troubles else 1 if failing or judges_less(policy, args.fail_on) else 0


class _ComparisonOutput:
    """What a run writes: a format of documents once all are known, any other as each comparison is done."""

    def __init__(self, name: str, look: Look) -> None:
        if name != "text":
            expect_document()
        self.form, self.look = import_module(f"setuplint.formats.comparisons.{name}"), look
        self.progress = Progress()
        self.troubles: list[str] = []
        self.compared = self.written = self.hidden = 0
        self._room = self.form.ROOM
        self._kept: list[ComparedSetup] = []

    def open(self, policy: Sequence[PolicyChange], said: str) -> None:
        text = self.form.opening(policy, said, self.look)
        if self._room is not None:
            self._room -= len(text.encode())
        write_out(text)

    def add(self, comparison: Comparison, reports: Sequence[Report], values: Mapping[str, object]) -> None:
        self.compared += 1
        if hasattr(self.form, "section"):
            self._write(self.form.section(comparison, reports, values, self.look))
        else:
            blocks = list(comparison_document(comparison, reports, values, brief=self.form.BRIEF))
            self._kept.append(compared_setup(comparison, blocks))

    def close(self, differing: int, passed_over: Sequence[PassedOver]) -> None:
        for blocks in told_once(self._kept):
            self._write(self.form.written(blocks, self.look))
        notes = [f"{self.hidden} of them are not shown, to save space"] if self.hidden else []
        write_out(self.form.closing(self.compared, differing, [*notes, *self.troubles], passed_over, self.look))

    def _write(self, text: str) -> None:
        if self._room is not None:
            self._room -= len(text.encode())
            self.hidden += self._room < 0
        if self._room is None or self._room >= 0:
            self.progress.clear()
            write_out((self.form.between if self.written else "") + text)
            self.written += 1


def is_failing(comparison: Comparison, fail_on: str) -> bool:
    """Any difference, or only hazards that are new or another at or above a signal word."""
    if fail_on == DIFFERENCE:
        return comparison.differs
    return any(finding.signal in _grave(fail_on) for finding in comparison.failing)


def judges_less(policy: Sequence[PolicyChange], fail_on: str) -> bool:
    """Likewise of what setups are judged by: what is judged less is a hazard gained."""
    return bool(policy) if fail_on == DIFFERENCE else any(each.signal in _grave(fail_on) for each in policy)


def _grave(fail_on: str) -> tuple[str, ...]:
    return SIGNALS[: SIGNALS.index(fail_on) + 1]


def comparison_of(old: SideText, new: SideText, judging: Judging) -> tuple[Comparison, list[Report], dict[str, object]]:
    """Two texts, compared; what could not be read of them is among what was not compared."""
    there = [text for text in (old, new) if text.data is not None]
    setups = [library.load_text(text.data or b"", text.name, text.beside) for text in there]
    path = new.path or old.path
    reports = []
    for text, setup in zip(there, setups, strict=True):
        reports.append(judging.report(text, setup, path, for_one_of_two() if len(there) == 2 else None))
    if new.data is not None:
        reports[-1] = judging.sifted(reports[-1], path)
    if len(setups) == 2:
        comparison = compare(setups[0].model, setups[1].model, *reports)
        values = joint_controls(setups[0].texts.values, setups[1].texts.values)
        return comparison, reports, values
    values, (report,) = dict(setups[0].texts.values), reports
    if new.data is None:
        return Comparison(old.name, "", lost=report.findings), reports, values
    gained = tuple(new_hazards(report, setups[0].model))
    return Comparison("", new.name, gained=gained, hidden=(*report.waived, *report.baselined)), reports, values


def _compared_sides(args: argparse.Namespace) -> since.Since:
    if args.since is not None:
        return since.changes(_revision(args), args.paths, args.baseline or "", staged=args.staged)
    if args.staged:
        raise Trouble("--staged goes with --since: it compares what is staged with a revision")
    if len(args.paths) != 2:
        raise Trouble("compare takes two files, OLD and NEW; or --since REV, and files or folders")
    return since.Since(_two_files(*args.paths))


def _revision(args: argparse.Namespace) -> str:
    """The one that is named. Where a hook is run before a push, or over a range, all is committed and HEAD has it: then it is
    the one from which on pre-commit looks."""
    since_head = args.staged and args.since == "HEAD"
    return (since_head and os.environ.get(FROM)) or str(args.since)


def _two_files(*paths: str) -> Iterator[Read]:
    old, new = map(since.given_text, paths)
    return iter([lambda: (old, new)])
