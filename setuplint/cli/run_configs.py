"""What each file of a run is judged by: every setuplint.toml down to it, the options of the command, and a baseline."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable, Sequence
from functools import lru_cache

from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.club import nearest
from setuplint.hints import TYPE_CHECKING

if TYPE_CHECKING:
    from setuplint.book.choices import Choices
    from setuplint.book.club_rules import RuleText
    from setuplint.book.rule_file import Rule
    from setuplint.club.config import Config, Loosened
    from setuplint.club.git_files import GitFiles

RuleTexts = tuple["RuleText", ...]


class Configs:
    """What holds in each folder, read once in a run: from the disk, or (`files`) from a revision or from what is staged."""

    def __init__(self, locations: Iterable[str] = (), paths: Sequence[str] = (), files: GitFiles | None = None) -> None:
        """Those of files that are known at the start are read at once; `paths` are those that the command was given."""
        file_choices.cache_clear()  # what a run before this one in the same process was judged by may have changed
        self.files = files
        self._tops = [os.path.realpath(path) for path in paths if os.path.isdir(path)]
        self._by_folder: dict[str, Config | None] = {}
        self._by_files: dict[tuple[nearest.NearestFile, ...], Config | None] = {}
        for location in locations:
            self.of(location)

    def of(self, file: str) -> Config | None:
        """That which holds for a file, or for a text that is called so; Trouble where it is broken."""
        folder = os.path.dirname(file)
        if folder not in self._by_folder:
            self._by_folder[folder] = self._read(file)
        return self._by_folder[folder]

    def every(self) -> list[Config]:
        return [config for config in self._by_files.values() if config is not None]

    def names(self) -> list[str]:
        """Every setuplint.toml in git's files, as a path."""
        if self.files is None:
            return []
        return [os.path.join(self.files.root, name) for name in self.files.entries if name.endswith(f"/{nearest.NAME}")]

    def loosened(self) -> list[Loosened]:
        """What nearer files try to loosen."""
        return list(dict.fromkeys(each for config in self.every() for each in config.loosened))

    def rule_texts(self, folders: Iterable[str]) -> RuleTexts:
        """The rules in folders that are named besides: of a revision, if they lie in its tree. Trouble where there is no such
        folder, or a rule cannot be taken."""
        folders = dict.fromkeys(folders)
        if not folders:
            return ()
        from setuplint.club.config_sources import DISK, GitSource, is_inside

        found: list[RuleText] = []
        for folder in folders:
            place, shown, source = os.path.realpath(folder), folder, DISK
            if self.files is not None and is_inside(os.path.abspath(folder), self.files.root):
                source = GitSource(self.files)
                place = os.path.abspath(folder)
                shown = source.shown(place)
            if not source.is_folder(place):
                raise Trouble(f"{shown} is not a folder of rules")
            try:
                found += source.rule_texts(place)
            except (OSError, ValueError) as error:
                raise Trouble(str(error)) from None
        return tuple(found)

    def _read(self, file: str) -> Config | None:
        if self.files is None:
            try:
                found = nearest.config_files(file, self._tops)
            except OSError as error:  # a link on the way that may not be read
                raise Trouble(f"cannot read {file}: {error.strerror or error}") from None
            if not found:
                return None
        from setuplint.club.config import ConfigError
        from setuplint.club.config_sources import DISK, GitSource
        from setuplint.club.git_files import GitError
        from setuplint.club.policy import policy_of

        try:
            source = DISK if self.files is None else GitSource(self.files)
            if self.files is not None:
                if self.files.name(os.path.abspath(file or "x")) is None:
                    raise Trouble(f"{file} lies outside of this repository, and cannot be judged by what is in it")
                found = source.configs(file)
            if tuple(found) not in self._by_files:
                self._by_files[tuple(found)] = policy_of(found, source)
        except (ConfigError, GitError) as error:
            raise Trouble(str(error)) from None
        return self._by_files[tuple(found)]


def policy_files(revision: str | None) -> GitFiles | None:
    """The files of the revision that `--policy` names."""
    if revision is None:
        return None
    from setuplint.club.git_files import GitError, files_at

    try:
        return files_at(".", revision)
    except GitError as error:
        raise Trouble(f"--policy: {error}") from None


def staged_files() -> GitFiles:
    """What is staged in the work tree that one is in."""
    from setuplint.club import git_files

    try:
        return git_files.staged_files(os.curdir)
    except git_files.GitError as error:
        raise Trouble(f"--staged: {error}") from None


def named_rules(args: argparse.Namespace, configs: Configs, texts: RuleTexts) -> frozenset[str] | None:
    """The rules that are named, once it is known that they are there, and that no club's rule is broken or clashes with
    another: that is Trouble once, not in every file. The book is not read where there is nothing to look up."""
    judged_by = [*configs.every(), *([None] if args.only or texts else [])]
    known = [name for config in judged_by for name in checked_choices(config, texts).rules]
    for rule in args.only or ():
        if rule not in known:
            raise Trouble(f"there is no rule {rule}{did_you_mean(rule, known)}")
    return frozenset(args.only) if args.only else None


def checked_choices(config: Config | None, texts: RuleTexts = ()) -> Choices:
    """What files with that config are judged by; Trouble where a rule of a club cannot be taken."""
    from setuplint.book.choices import Choices

    try:
        return file_choices(config, texts, True) or Choices()
    except (OSError, ValueError) as error:
        raise Trouble(str(error)) from None


def club_rules(configs: Configs, texts: RuleTexts) -> dict[str, Rule]:
    """The clubs' own rules by which any file of the run may be judged."""
    from setuplint.book import rulebook

    judged_by = [*configs.every(), *([None] if texts else [])]
    every = {name: rule for config in judged_by for name, rule in checked_choices(config, texts).rules.items()}
    return {name: rule for name, rule in every.items() if name not in rulebook.rules()}


@lru_cache(maxsize=64)
def file_choices(config: Config | None, texts: RuleTexts, waive: bool) -> Choices | None:
    """What a file with that config is judged by; None is the newest edition of our rules, and nothing else."""
    if config is None and not texts and waive:
        return None
    from setuplint.club.choosing import choices_with

    return choices_with(config, texts, waive=waive)
