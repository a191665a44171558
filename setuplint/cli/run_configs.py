"""What each file of a run is judged by: its own setuplint.toml, the options of the command, and a baseline."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from setuplint.cli.trouble import Trouble, did_you_mean
from setuplint.club import nearest

if TYPE_CHECKING:
    from setuplint.book.choices import Choices
    from setuplint.book.rule_file import Rule
    from setuplint.club.config import Config


class Configs:
    """The setuplint.toml of each folder, read once in a run."""

    def __init__(self, locations: Iterable[str] = ()) -> None:
        """Those of files that are known at the start are read at once."""
        file_choices.cache_clear()  # what a run before this one in the same process was judged by may have changed
        self._by_folder: dict[str, Config | None] = {}
        self._by_path: dict[str, Config] = {}
        for location in locations:
            self.of(location)

    def of(self, file: str) -> Config | None:
        """That which holds for a file, or for a text that is called so; Trouble where it is broken."""
        folder = os.path.dirname(file)
        if folder not in self._by_folder:
            found = nearest.nearest_config(file)
            self._by_folder[folder] = self._read(found) if found else None
        return self._by_folder[folder]

    def every(self) -> list[Config]:
        return list(self._by_path.values())

    def _read(self, found: nearest.NearestFile) -> Config:
        from setuplint.club.config import ConfigError, read_config

        if found.path not in self._by_path:
            try:
                self._by_path[found.path] = read_config(found)
            except ConfigError as error:
                raise Trouble(str(error)) from None
        return self._by_path[found.path]


def named_rules(args: argparse.Namespace, configs: Configs) -> frozenset[str] | None:
    """The rules that are named, once it is known that they are there, and that no club's rule is broken or clashes with
    another: that is Trouble once, not in every file. The book is not read where there is nothing to look up."""
    judged_by = [*configs.every(), *([None] if args.only or args.rules else [])]
    known = [name for config in judged_by for name in checked_choices(config, args.rules).rules]
    for rule in args.only or ():
        if rule not in known:
            raise Trouble(f"there is no rule {rule}{did_you_mean(rule, known)}")
    return frozenset(args.only) if args.only else None


def checked_choices(config: Config | None, folders: Iterable[str]) -> Choices:
    """What files with that config are judged by; Trouble where a rule of a club cannot be taken."""
    from setuplint.book.choices import Choices

    folders = tuple(folders)
    for folder in folders:
        if not os.path.isdir(folder):
            raise Trouble(f"{folder} is not a folder of rules")
    try:
        return file_choices(config, tuple(map(Path, folders)), True) or Choices()
    except (OSError, ValueError) as error:
        raise Trouble(str(error)) from None


def club_rules(configs: Configs, folders: Iterable[str]) -> dict[str, Rule]:
    """The clubs' own rules by which any file of the run may be judged."""
    from setuplint.book import rulebook

    folders = tuple(folders)
    judged_by = [*configs.every(), *([None] if folders else [])]
    every = {name: rule for config in judged_by for name, rule in checked_choices(config, folders).rules.items()}
    return {name: rule for name, rule in every.items() if name not in rulebook.rules()}


@lru_cache(maxsize=64)
def file_choices(config: Config | None, folders: tuple[Path, ...], waive: bool) -> Choices | None:
    """What a file with that config is judged by; None is the newest edition of our rules, and nothing else."""
    if config is None and not folders and waive:
        return None
    from setuplint.club.choosing import choices as made

    return made(config, folders, waive=waive)
