"""The library: lint a setup, load one, decide questions about it."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, partial
from importlib import import_module

from setuplint.dataclass import replace
from setuplint.findings import RENDERERS, Report
from setuplint.hints import TYPE_CHECKING, Any
from setuplint.setup import loaded_setup as load_setup
from setuplint.setup.file_sources import RECORD, FileSource, Folder, TextsByName
from setuplint.setup.model import Setup as Model
from setuplint.setup.problems import SetupProblem, word_list
from setuplint.setup.texts import Texts
from setuplint.source import Document

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    import networkx

    from setuplint.book.asking import Proving
    from setuplint.book.choices import Choices
    from setuplint.book.radios import Habits, RadioRecord
    from setuplint.book.record_file import BenchRecord
    from setuplint.club.config import Config as Policy
    from setuplint.club.git_files import GitFiles
    from setuplint.comparison.changes import Comparison
    from setuplint.engine.decider import Decider
    from setuplint.engine.kept import Kept
    from setuplint.notes.asking import Note
    from setuplint.pages.notebook import DrawnCurve
    from setuplint.records.checked import RecordCheck


class LoadedSetup:
    """One setup as read: `model` is what it means, `texts` what it is written in (its own text and those of the shared parts
    that it extends), `problems` what could not be read."""

    def __init__(self, texts: Texts, model: Model, problems: tuple[SetupProblem, ...]) -> None:
        self.texts, self.model, self.problems = texts, model, problems

    @property
    def document(self) -> Document:
        """The setup's own text."""
        return self.texts.own

    @property
    def name(self) -> str:
        return self.model.craft.name

    @cached_property
    def graph(self) -> networkx.DiGraph[Any]:
        """A networkx.DiGraph of sticks, switches, knobs, sensors, conditions, modes, curves, channels, overrides, alarms and
        intents; edges lead from what is read to what reads it, and say why."""
        from setuplint.graph import digraph

        return digraph(self.model)

    def curve(self, name: str) -> DrawnCurve:
        """One of its curves, to be drawn or shown in a notebook. KeyError, with the names that there are, where none has that
        name."""
        if name not in self.model.curves:
            raise KeyError(f"no curve is called {name!r}; its curves are {word_list(self.model.curves, 'and')}")
        from setuplint.pages.notebook import DrawnCurve

        return DrawnCurve(self.model, name)

    def notes(self) -> list[Note]:
        """What is good to know about the craft, in sentences, each decided over every state that can be reached: `topic`, `text`,
        `decided`, and `basis`, the questions behind it."""
        from setuplint.notes.handling import handling_notes

        return handling_notes(self.model, self.texts.values)

    def _repr_html_(self) -> str:
        """How a notebook shows it: who can take which channel, and what the motor and the collective do along the stick."""
        from setuplint.pages.notebook import setup_html

        return setup_html(self.model, len(self.problems))

    def __repr__(self) -> str:
        return f"<setuplint.Setup {self.name!r}>"


Setup = LoadedSetup  # its public name


Config = str | os.PathLike[str] | bool


def lint(
    path: str | os.PathLike[str],
    *,
    only: Collection[str] | None = None,
    rules: Sequence[Path] = (),
    config: Config = True,
    policy: str = "",
    today: date | None = None,
) -> Report:
    """Lint one file, as the command does: by every setuplint.toml upwards, what their baseline holds kept apart in
    `.baselined`. `config` False is by none, a path by that one alone; `policy` is a revision of git's: by what these files, the
    rules that they name and the baseline are in that. OSError where the file cannot be read, or there is no such revision,
    ValueError where setuplint.toml or the baseline is broken; whatever is wrong with the file's content is a finding. For the
    other arguments see `lint_text`."""
    _forget_baselines()
    name, text = os.fspath(path), _content(path)
    files = _revision(name, policy)
    return _judged_text(text, name, config, rules, files=files, only=only, today=today, beside=Folder(path))


def lint_text(
    text: str | bytes,
    name: str = "<text>",
    *,
    only: Collection[str] | None = None,
    rules: Sequence[Path] = (),
    config: Config = False,
    today: date | None = None,
    habits: Habits | None = None,
    beside: FileSource | None = None,
    choices: Choices | None = None,
    kept: Kept | None = None,
) -> Report:
    """Lint a setup's text. `only` names the rules to report; `rules` are folders of a club's claims; `config` is the path of
    a setuplint.toml, or True for all that hold for the file `name`; `today` is what waivers compare with (default: the day
    of the call); `habits` are for `lint_together`; `beside` reads the shared parts that the text extends, as
    `Folder("wagtail.toml")` does: without it they are a finding. `choices` are for the command, instead of `rules` and
    `config`, and `kept` has what rules said of texts before. ValueError where a claim or setuplint.toml is broken."""
    setup = Setup(*load_setup(text, name, beside, kept.tables.next(len(text)) if kept is not None else None))
    choices = choices or _choices(_policy(config, name), rules)
    return lint_loaded(setup, beside, choices, only=only, today=today, habits=habits, kept=kept)


def lint_loaded(setup: Setup, beside: FileSource | None, choices: Choices | None, **more: Any) -> Report:
    """The lint of what has been read; for the arguments see `lint_text` and `setuplint.book.run.lint`."""
    from setuplint.book import run

    records = proof_beside(beside, choices)
    return run.lint(setup.texts, setup.model, setup.problems, choices=choices, records=records, **more)


def proof_beside(beside: FileSource | None, choices: Choices | None) -> Proving | None:
    """What the records beside a setup come to, for a club that asks for one."""
    if beside is None or choices is None or not choices.require_record:
        return None
    from setuplint.records.checked import proof_by

    return partial(proof_by, beside.records())


def lint_together(
    setups: Iterable[str | os.PathLike[str]] | Mapping[str, str | bytes],
    *,
    only: Collection[str] | None = None,
    rules: Sequence[Path] = (),
    config: Config = True,
    today: date | None = None,
    choices: Choices | None = None,
) -> list[Report]:
    """Lint the setups of one pilot: files, or texts by their names, records among them. Those that name one radio are compared
    with each other too. The reports are in the order given. `config` is as for `lint`, but texts have none unless one is given;
    `choices` as for `lint_text`. OSError where a file cannot be read, ValueError where a claim or setuplint.toml is
    broken."""
    from setuplint.book import radios
    from setuplint.engine.kept import Kept

    _forget_baselines()
    texts: dict[str, str | bytes]
    beside: dict[str, FileSource]
    if isinstance(setups, Mapping):
        texts = {name: text for name, text in setups.items() if not name.endswith(RECORD)}
        beside = {name: TextsByName(setups, name) for name in texts}
        config = False if config is True else config
    else:
        texts = {os.fspath(path): _content(path) for path in setups}
        beside = {name: Folder(name) for name in texts}
    kept = Kept() if len(texts) > 1 else None
    records = (record(text, name, beside[name], kept) for name, text in texts.items())
    habits = radios.habits(one for one in records if one is not None)
    more: dict[str, Any] = {"only": only, "today": today, "habits": habits, "kept": kept}
    return [
        _judged_text(text, name, config, rules, choices, beside=beside[name], **more) for name, text in texts.items()
    ]


def _content(path: str | os.PathLike[str]) -> bytes:
    """What is in a file. OSError where it cannot be read."""
    with open(path, "rb") as file:
        return file.read()


def _judged_text(
    text: str | bytes,
    name: str,
    config: Config,
    rules: Sequence[Path],
    choices: Choices | None = None,
    files: GitFiles | None = None,
    **more: Any,
) -> Report:
    """The lint of a text, with what the club's baseline holds kept apart; by the policy in `files`, if they are given."""
    policy = None if choices else _policy(config, name, files)
    choices = choices or _choices(policy, rules)
    return _by_baseline(lint_text(text, name, choices=choices, **more), name, policy, choices, files)


def _revision(name: str, policy: str) -> GitFiles | None:
    """The files of a revision, in the repository of a file; None without one."""
    if not policy:
        return None
    from setuplint.club.git_files import files_at

    return files_at(os.path.dirname(os.path.abspath(name)), policy)


def _policy(config: Config, name: str, files: GitFiles | None = None) -> Policy | None:
    """What the setuplint.toml that hold for a file say together."""
    from setuplint.club import nearest

    if files is not None:
        from setuplint.club.config_sources import GitSource
        from setuplint.club.policy import file_policy

        return file_policy(name, GitSource(files))

    given = [] if isinstance(config, bool) else [nearest.given_config(os.fspath(config))]
    found = nearest.config_files(name) if config is True else given
    if not found:
        return None
    from setuplint.club.policy import policy_of

    return policy_of(found)


def _choices(policy: Policy | None, rules: Sequence[Path]) -> Choices | None:
    """What a file is judged by; None is the newest edition of our rules, and nothing else."""
    if policy is None and not rules:
        return None
    from setuplint.club.choosing import choices

    return choices(policy, rules)


def _by_baseline(
    report: Report, name: str, policy: Policy | None, choices: Choices | None, files: GitFiles | None
) -> Report:
    """The report with what the club's baseline holds kept apart."""
    if policy is None or choices is None or not policy.baseline:
        return report
    from setuplint.club.baseline import read_baseline

    try:
        return read_baseline(policy.baseline, files).sift(report, name, choices).report
    except FileNotFoundError:
        raise ValueError(f"there is no {policy.baseline}, which {policy.name} names as the baseline") from None


def _forget_baselines() -> None:
    """Called once a call: what one before it read may have changed since."""
    if baseline := sys.modules.get("setuplint.club.baseline"):
        baseline.read_baseline.cache_clear()


def record(
    text: str | bytes, name: str, beside: FileSource | None = None, kept: Kept | None = None
) -> RadioRecord | None:
    """What the setups linted together with this one need to know of it; None where it names no radio."""
    from setuplint.book import radios
    from setuplint.setup.contents import contents

    texts, model, problems = load_setup(text, name, beside, kept.tables.next(len(text)) if kept is not None else None)
    if not model.craft.radio:
        return None
    known = kept.known(contents(texts, problems)) if kept is not None else None
    return radios.record(name, model, known)


def load(path: str | os.PathLike[str]) -> Setup:
    """Read one file; problems are in `.problems`. OSError where it cannot be read."""
    return load_text(_content(path), os.fspath(path), Folder(path))


def load_text(text: str | bytes, name: str = "<text>", beside: FileSource | None = None) -> Setup:
    """Read a setup's text; problems are in `.problems`. `beside` reads the shared parts that it extends."""
    return Setup(*load_setup(text, name, beside))


def decide(setup: Setup | Model) -> Decider:
    """The engine for one setup: `find`, `output_range` and `delay` are exact over every reachable state."""
    from setuplint.engine.decider import Decider

    return Decider(setup.model if isinstance(setup, Setup) else setup)


def compare(
    old: Setup | str | os.PathLike[str],
    new: Setup | str | os.PathLike[str],
    *,
    config: Config = True,
    policy: str = "",
) -> Comparison:
    """What the craft does differently by another setup, with a case for each difference; all else is proved the same, but for
    `.open`. As the command does, both are judged by every setuplint.toml that holds for `new`; what a waiver or the baseline
    keeps from failing is in `.hidden`. `config`, `policy` and the errors are those of `lint`; a text that is no file has no
    setuplint.toml unless one is given."""
    from setuplint.comparison.result import compare as compared

    _forget_baselines()
    one, two = (each if isinstance(each, Setup) else load(each) for each in (old, new))
    name = two.document.name
    files = _revision(name, policy)
    by = _policy(os.path.isfile(name) if config is True else config, name, files)
    choices = _choices(by, ())
    before, after = (_linted(setup, choices) for setup in (one, two))
    after = _by_baseline(after, name, by, choices, files)
    return replace(compared(one.model, two.model, before, after), reports=(before, after))


def _linted(setup: Setup, choices: Choices | None) -> Report:
    """One of two, for a comparison."""
    from setuplint.budget import for_one_of_two

    return lint_loaded(setup, Folder(setup.document.name), choices, spent=for_one_of_two())


def check_record(setup: Setup | Model, record: BenchRecord | str | os.PathLike[str]) -> RecordCheck:
    """Hold a record, or the file of one, against its setup: `.proved` and `.open` are numbers of boxes on the bench card,
    `.differing` what was read otherwise (percent), `.explained` the single changes of the setup that give just these readings.
    `.fits` says whether it is of this setup, by the fingerprint; `.holds` whether it proves something and nothing speaks against
    it. OSError where the file cannot be read, ValueError where it is no record."""
    from setuplint.bench.stages import bench_card
    from setuplint.book.record_file import LARGEST, BenchRecord, read_record
    from setuplint.records.checked import checked_record
    from setuplint.records.explain import explained_check

    model = setup.model if isinstance(setup, Setup) else setup
    if not isinstance(record, BenchRecord):
        with open(record, "rb") as file:
            record = read_record(file.read(LARGEST + 1), os.fspath(record))
    return explained_check(model, checked_record(record, model, bench_card(model)))


Number = int | float | str | Decimal | Fraction


def soften(
    hover: Number, slope: Number, ends: tuple[Number, Number] = (-100, 100), smoothing: str = "none"
) -> tuple[tuple[Fraction, Fraction], ...]:
    """The five points (stick, output) of a curve that is soft around the hover, in percent, exact.

    It goes from end to end through `hover`, the output that the hover needs, at mid-stick, and has `slope` there: output
    points a stick point, where a straight line from -100 to +100 has 1. `smoothing` is none, monotone, cardinal, natural, or
    unknown, which must suit all three. ValueError, saying why, for what is not a number, and for a slope whose curve turns
    back between its points. For example, `soften(16, 0.6)` has its second and fourth points at -14 and 46.
    """
    from setuplint.curves.soften import softened

    low, high = ends
    return softened(_exact(hover), _exact(slope), (_exact(low), _exact(high)), smoothing)


def _exact(number: Number) -> Fraction:
    """The number as it is written: 0.6 is six tenths, not the float next to it."""
    try:
        return Fraction(str(number))
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"{number!r} is not a number") from None


def _later(module: str, name: str) -> Callable[[Any], str]:
    """A function of a module that is imported when it is called."""
    return lambda shown: str(getattr(import_module(f"setuplint.{module}"), name)(shown))


RENDERERS.update({
    "finding": _later("pages.notebook", "finding_html"),
    "report": _later("pages.notebook", "report_html"),
    "case": _later("pages.notebook", "case_words"),
    "comparison": _later("pages.notebook", "comparison_html"),
    "comparison text": _later("pages.notebook", "comparison_text"),
    "page": _later("pages.report", "page_alone"),
    "text": _later("formats.reports.text", "report_text"),
})  # fmt: skip
