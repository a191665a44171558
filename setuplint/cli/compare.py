"""`setuplint compare`: what a craft does differently, between two files or since a revision."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Collection, Iterator
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

from setuplint import library
from setuplint.cli import files, run_configs, single_setup
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.progress import Progress
from setuplint.cli.run_configs import Configs
from setuplint.cli.trouble import TROUBLE, Trouble, complain
from setuplint.comparison.changes import Comparison
from setuplint.comparison.result import compare
from setuplint.findings import SIGNALS, Report
from setuplint.formats.change_words import joint_controls
from setuplint.setup.file_sources import FileSource, Folder
from setuplint.setup.shared_files import is_shared_file
from setuplint.source import parsed_document as read_text

if TYPE_CHECKING:
    from setuplint.cli.revisions import Changed, Tree

DIFFERENCE = "difference"


class SideText(NamedTuple):
    """A setup's text, and what it is called; `data` is None where it is not there."""

    name: str
    data: bytes | None
    beside: FileSource | None = None  # reads the shared parts that it extends
    path: str = (
        ""  # of the file in the work tree, whose setuplint.toml holds; of an old revision's, that of the new one
    )


Read = Callable[[], tuple[SideText, SideText]]  # gives the two, or Trouble


def run(args: argparse.Namespace) -> int:
    form = import_module(f"setuplint.formats.comparisons.{args.format}")
    shown = stdout_look()
    pairs = _changed_files(args) if args.since is not None else _two_files(args)
    configs = Configs()
    compared = differing = failing = hidden = 0
    room = form.ROOM
    troubles: list[str] = []
    write_out(form.opening(shown))
    progress = Progress()
    for read in progress.over(pairs, "Comparing"):
        try:
            comparison, reports, values = comparison_of(*read(), configs)
        except Trouble as trouble:
            progress.clear()
            complain(str(trouble))
            troubles.append(str(trouble))
            continue
        text = form.section(comparison, reports, values, shown)
        if room is not None:
            room -= len(text.encode())
            hidden += room < 0
        if room is None or room >= 0:
            progress.clear()
            write_out((form.between if compared else "") + text)
        compared += 1
        differing += comparison.differs
        failing += is_failing(comparison, args.fail_on)
        if comparison.open and not comparison.differs:  # what was not compared may differ: that is not "the same"
            troubles.append(f"{comparison.new}: not everything could be compared")
    notes = [f"{hidden} of them are not shown, to save space"] if hidden else []
    write_out(form.closing(compared, differing, [*notes, *troubles], shown))
    return TROUBLE if troubles else 1 if failing else 0


def is_failing(comparison: Comparison, fail_on: str) -> bool:
    """Any difference, or only hazards gained at or above a signal word."""
    if fail_on == DIFFERENCE:
        return comparison.differs
    grave = SIGNALS[: SIGNALS.index(fail_on) + 1]
    return any(finding.signal in grave for finding in comparison.gained)


def comparison_of(old: SideText, new: SideText, configs: Configs) -> tuple[Comparison, list[Report], dict[str, object]]:
    """Two texts, compared; what could not be read of them is among what was not compared."""
    there = [text for text in (old, new) if text.data is not None]
    setups = [library.load_text(text.data or b"", text.name, text.beside) for text in there]
    path = new.path or old.path
    judged_by = run_configs.file_choices(configs.of(path) if path else None, (), True)
    reports = [library.lint_text(text.data or b"", text.name, beside=text.beside, choices=judged_by) for text in there]
    if len(setups) == 2:
        comparison = compare(setups[0].model, setups[1].model, *reports)
        values = joint_controls(setups[0].texts.values, setups[1].texts.values)
        return comparison, reports, values
    values = dict(setups[0].texts.values)
    if new.data is None:
        return Comparison(old.name, "", lost=reports[0].findings), reports, values
    return Comparison("", new.name, gained=reports[0].findings), reports, values


def _two_files(args: argparse.Namespace) -> Iterator[Read]:
    if len(args.paths) != 2:
        raise Trouble("compare takes two files, OLD and NEW; or --since REV, and files or folders")
    old, new = (_given_text(path) for path in args.paths)
    return iter([lambda: (old, new)])


def _given_text(path: str) -> SideText:
    return SideText(
        *single_setup.name_and_content(path), files.beside(single_setup.candidate(path)), "" if path == "-" else path
    )


def _changed_files(args: argparse.Namespace) -> Iterator[Read]:
    """What has changed, and what extends a shared part that has."""
    from setuplint.cli.revisions import Tree

    tree = Tree()
    commit = tree.commit(args.since)
    changed = list(tree.changed(commit, args.paths or ["."]))
    extended = tree.extended(changed)
    changed += tree.extending(commit, changed)
    changed.sort(key=lambda each: each.new or each.old)
    return filter(None, (_pair(tree, commit, args.since, each, extended) for each in changed))


def _pair(tree: Tree, commit: str, revision: str, changed: Changed, extended: Collection[str]) -> Read | None:
    """Both sides of a change; None where neither is a set-up of its own: other TOML files, and shared parts, are passed
    over. `extended` are the real paths of files that others extend."""
    shared = any(tree.real(name) in extended for name in (changed.old, changed.new) if name)
    try:
        old = new = SideText("", None)
        if changed.blob:
            beside = tree.beside(commit, revision, changed.old)
            old = SideText(beside.called, tree.content(changed.blob), beside)
        if changed.path:
            new = _given_text(changed.path)._replace(name=files.printable(changed.new))
            new = new._replace(beside=Folder(changed.path, new.name))
    except Trouble as trouble:
        return partial(_raise_trouble, str(trouble))
    if not any(text.data is not None and _is_setup(text.data, shared=shared) for text in (old, new)):
        return None
    return lambda: (old, new)


def _raise_trouble(trouble: str) -> tuple[SideText, SideText]:
    raise Trouble(trouble)


def _is_setup(data: bytes, *, shared: bool) -> bool:
    """Whether it is a set-up at all; with `shared` it is extended, and none if it has only what can be shared."""
    return files.is_setup_text(data) and not (shared and is_shared_file(read_text(data)))
