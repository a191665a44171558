"""What a change does to that by which setups are judged: rules, limits, `never-waive`, `fail-on`, the edition, the baseline.

It is told by meaning: of all setuplint.toml taken together, before and now, for each folder of setups. What is judged less has a
signal word, as a hazard has that is gained; all else has none.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import cached_property

from setuplint.book import rulebook
from setuplint.book.choices import Choices
from setuplint.book.implication import finds_as_much
from setuplint.book.rule_file import BookError, Rule
from setuplint.club import limits
from setuplint.club.baseline import BaselineError, Entry, read_baseline
from setuplint.club.choosing import choices_with
from setuplint.club.config import Config, ConfigError
from setuplint.club.config_sources import DISK, ConfigSource, GitSource
from setuplint.club.git_files import GitFiles
from setuplint.club.nearest import NearestFile
from setuplint.club.policy import policy_of
from setuplint.dataclass import dataclass
from setuplint.findings import FAIL_ON, SIGNALS
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import name_from
from setuplint.setup.problems import word_list

MOST_NAMED = 8  # rules in one sentence


class PolicyChange(NamedTuple):
    """One of them. `signal` is the gravest of what is judged less, or empty; `kind` is rule, limit, never-waive, fail-on,
    edition, baseline, require-record or unread; `folders` are those of the setups for which it is so, empty where it is so for
    all."""

    kind: str
    signal: str
    message: str
    folders: tuple[str, ...] = ()


@dataclass(frozen=True)
class Judge:
    """By what the setups of a folder are judged, before or now. `error` is what is wrong with a setuplint.toml."""

    config: Config | None = None
    error: str = ""

    @cached_property
    def choices(self) -> Choices:
        return choices_with(self.config, ())

    @cached_property
    def rules(self) -> Mapping[str, Rule]:
        """Those that are judged."""
        made = self.choices
        return {name: rule for name, rule in made.rules.items() if name not in made.left_out}

    @property
    def fail_on(self) -> str:
        return (self.config.fail_on if self.config else None) or FAIL_ON

    @property
    def edition(self) -> str:
        year = self.config.edition if self.config else None
        return "the newest" if year is None else str(year)


class Judges:
    """Those of one side, each made once."""

    def __init__(self, source: ConfigSource) -> None:
        self.source = source
        self._made: dict[tuple[NearestFile, ...], Judge] = {}

    def of(self, file: str) -> Judge:
        found = tuple(self.source.configs(file))
        if found not in self._made:
            self._made[found] = self._judge(found)
        return self._made[found]

    def baselines(self) -> list[str]:
        """The paths of those that they name."""
        configs = [judge.config for judge in self._made.values() if judge.config]
        return list(dict.fromkeys(config.baseline for config in configs if config.baseline))

    def _judge(self, found: Sequence[NearestFile]) -> Judge:
        try:
            judge = Judge(policy_of(found, self.source))
            _ = judge.choices
        except (ConfigError, BookError, OSError) as error:
            return Judge(error=str(error))
        return judge


class Change(NamedTuple):
    """What is looked at: `files` are paths by which setups were known and are known, `before` and `now` (None: the work tree) the
    two sides, `baseline` is one that an option names."""

    files: Sequence[tuple[str, str]]
    before: GitFiles
    now: GitFiles | None
    baseline: str = ""


def policy_changes(change: Change) -> list[PolicyChange]:
    """The gravest first. ConfigError or BaselineError where a setuplint.toml, or the baseline, as it is now is broken."""
    old_judges = Judges(GitSource(change.before))
    new_judges = Judges(DISK if change.now is None else GitSource(change.now))
    folders = {(os.path.dirname(old), os.path.dirname(new)): (old, new) for old, new in change.files}
    found: dict[PolicyChange, list[str]] = {}
    for (_, folder), (old, new) in sorted(folders.items()):
        for each in _changes(old_judges.of(old), new_judges.of(new)):
            found.setdefault(each, []).append(DISK.shown(folder))
    told = [
        each._replace(folders=() if len(where) == len(folders) else tuple(dict.fromkeys(where)))
        for each, where in found.items()
    ]
    told += baseline_changes(change, old_judges.baselines(), new_judges.baselines())
    return sorted(told, key=lambda each: SIGNALS.index(each.signal) if each.signal else len(SIGNALS))


def _changes(was: Judge, now: Judge) -> Iterator[PolicyChange]:
    if now.error:
        raise ConfigError(now.error)
    if was.error:
        yield PolicyChange("unread", "", f"by what was judged before cannot be told: {was.error}")
    if was.error or was.config == now.config:
        return
    yield from _edition_changes(was, now)
    yield from _rule_changes(was, now)
    yield from _limit_changes(was, now)
    yield from _never_waive_changes(was, now)
    yield from _fail_on_changes(was, now)
    yield from _record_changes(was, now)


def _edition_changes(was: Judge, now: Judge) -> Iterator[PolicyChange]:
    if was.edition == now.edition:
        return
    gone = [was.rules[name] for name in was.rules if name in now.choices.left_out]
    more = f"; not judged any more: {_named(gone)}" if gone else ""
    yield PolicyChange("edition", gravest(gone), f"the edition is {now.edition} now, and was {was.edition}{more}")


def _rule_changes(was: Judge, now: Judge) -> Iterator[PolicyChange]:
    for name, old in was.rules.items():
        if name in now.rules:
            yield from _rule_change(old, now.rules[name])
        elif name not in now.choices.left_out:
            yield PolicyChange("rule", old.signal, f"the rule {name} is gone: “{old.title}” is not judged any more")
    for name, rule in now.rules.items():
        if name not in was.rules:
            yield PolicyChange("rule", "", f"the rule {name} is new: “{rule.title}”, a {rule.signal}")


def _rule_change(old: Rule, new: Rule) -> Iterator[PolicyChange]:
    if SIGNALS.index(new.signal) > SIGNALS.index(old.signal):
        yield PolicyChange("rule", old.signal, f"the rule {old.name} is a {new.signal} now, and was a {old.signal}")
    elif new.signal != old.signal:
        yield PolicyChange("rule", "", f"the rule {old.name} is a {new.signal} now, and was a {old.signal}")
    if old.is_claim and new.is_claim and (old.never, old.always) != (new.never, new.always):
        weaker = not finds_as_much(new, old)
        how = "it is not proved that it finds all that it found" if weaker else "it finds all that it found"
        words = f"the rule {old.name} says {_claim(new)} now, and said {_claim(old)}: {how}"
        yield PolicyChange("rule", old.signal if weaker else "", words)
    for key, words in (("needs", "is not judged now without"), ("said_by", "is silent now where there speaks")):
        more = [name for name in getattr(new, key) if name not in getattr(old, key)]
        if more:
            yield PolicyChange("rule", old.signal, f"the rule {old.name} {words} {word_list(more)}")


def _claim(rule: Rule) -> str:
    return f"never {rule.never}" if rule.never is not None else f"always {rule.always}"


def _limit_changes(was: Judge, now: Judge) -> Iterator[PolicyChange]:
    for name, old in was.rules.items():
        for limit, before in old.limits.items():
            after = now.rules[name].limits.get(limit) if name in now.rules else None
            if after is None or after.value == before.value or (before.home and before.home in was.rules):
                continue
            looser = limits.looser(old, limit, after.value)
            signal = gravest(was.rules[each] for each in limits.sharing(was.rules, name, limit)) if looser else ""
            how = "looser" if looser else "stricter"
            words = f"{name}.{limit} is {float(after.value):g} {after.unit} now, and was {float(before.value):g}: {how}"
            yield PolicyChange("limit", signal, words)


def _never_waive_changes(was: Judge, now: Judge) -> Iterator[PolicyChange]:
    before, after = was.choices.never_waive, now.choices.never_waive
    if before == after:
        return
    gone = [rule for name, rule in now.rules.items() if _kept(rule, before) and not _kept(rule, after)]
    if gone or before - after:
        words = (
            f"never-waive is without {word_list(sorted(before - after), 'and')} now"
            if before - after
            else "never-waive"
        )
        can = f"{_named(gone)} can be waived" if gone else "what it keeps from being waived is the same"
        yield PolicyChange("never-waive", gravest(gone), f"{words}: {can}")
    if after - before:
        yield PolicyChange("never-waive", "", f"never-waive has {word_list(sorted(after - before), 'and')} now")


def _kept(rule: Rule, never_waive: Collection[str]) -> bool:
    return rule.name in never_waive or rule.signal in never_waive


def _fail_on_changes(was: Judge, now: Judge) -> Iterator[PolicyChange]:
    before, after = SIGNALS.index(was.fail_on), SIGNALS.index(now.fail_on)
    if after != before:
        free = SIGNALS[after + 1 : before + 1]
        bound = SIGNALS[before + 1 : after + 1]
        words = f"a {word_list(free)} fails no more" if free else f"a {word_list(bound)} fails now"
        signal = free[0] if free else ""
        yield PolicyChange("fail-on", signal, f"fail-on is {now.fail_on} now, and was {was.fail_on}: {words}")


def _record_changes(was: Judge, now: Judge) -> Iterator[PolicyChange]:
    if was.choices.require_record != now.choices.require_record:
        asked = now.choices.require_record
        words = "is asked for now" if asked else "is asked for no more: a setup need not be proved on the transmitter"
        signal = "" if asked else rulebook.rules()["record-missing"].signal
        yield PolicyChange("require-record", signal, f"a record beside each setup {words}")


def gravest(rules: Iterable[Rule]) -> str:
    """The gravest signal word of some rules; empty of none."""
    return min((rule.signal for rule in rules), key=SIGNALS.index, default="")


def _named(rules: Collection[Rule]) -> str:
    grave = sorted(rules, key=lambda rule: SIGNALS.index(rule.signal))
    names = [rule.name for rule in grave[:MOST_NAMED]]
    return word_list([*names, f"{len(grave) - MOST_NAMED} more"] if len(grave) > MOST_NAMED else names, "and")


# -- the baseline

Known = tuple[str, str, str, str]  # file from the root of the work tree, rule, subject and signal


def baseline_changes(change: Change, before: Sequence[str], now: Sequence[str]) -> Iterator[PolicyChange]:
    """Entries that are added, and how many are left out; by the baselines that setuplint.toml named and names. A setup that has
    moved takes its entries along."""
    root = change.before.root
    moved = {name_from(root, old): name_from(root, new) for old, new in change.files}
    named = [change.baseline] if change.baseline else []
    try:
        old = _known(named or before, change.before, root, moved)
    except BaselineError as error:
        old = {}
        yield PolicyChange("unread", "", f"the baseline before cannot be read: {error}")
    new = _known(named or now, change.now, root, {})
    for known in sorted(new, key=lambda each: (SIGNALS.index(each[3]), each)):
        file, rule, subject, signal = known
        of = f" of {subject}" if subject else ""
        more = Counter(entry.message for entry in new[known][len(old.get(known, ())) :])
        for message, times in more.items():  # a short line may stand for many
            words = f"put into the baseline, so that it fails no more: {rule}{of} in {file}: {message}"
            yield PolicyChange("baseline", signal, f"{words} ({times:,} times)" if times > 1 else words)
    gone = sum(max(0, len(entries) - len(new.get(known, ()))) for known, entries in old.items())
    if gone:
        yield PolicyChange("baseline", "", f"left out of the baseline: {gone} of what was in it")


def _known(
    paths: Sequence[str], files: GitFiles | None, root: str, moved: Mapping[str, str]
) -> dict[Known, list[Entry]]:
    """The entries of baselines; where there is none, there are no entries. BaselineError where one is none."""
    found: dict[Known, list[Entry]] = {}
    for path in paths:
        try:
            baseline = read_baseline(path, files)
        except FileNotFoundError:
            continue
        for entry in baseline.entries:
            name = name_from(root, os.path.join(baseline.folder, entry.file))
            key = (moved.get(name, name), entry.rule, entry.subject, entry.signal)
            found.setdefault(key, []).append(entry)
    return found
