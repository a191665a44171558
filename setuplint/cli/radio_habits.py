"""What the other craft of one transmitter have for hold, rescue and flight mode: the hand finds them in the same place."""

from __future__ import annotations

from collections import Counter
from itertools import islice
from pathlib import Path

from setuplint.cli import files
from setuplint.interview.data import interview
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup import loaded_setup
from setuplint.setup.file_sources import Folder
from setuplint.setup.model import Setup

MOST = 200  # files of a folder that are looked at


class SwitchHabit(NamedTuple):
    """A switch, and one of the craft that have it so."""

    switch: str
    craft: str


def switch_habits(folder: Path, radio: str) -> dict[str, SwitchHabit]:
    """By what it is for ("hold", "rescue", "flight"): the switch that most craft of the radio in the folder have for it."""
    votes: dict[str, Counter[str]] = {}
    craft: dict[tuple[str, str], str] = {}
    for path in islice(sorted(folder.glob("*.toml")), MOST):
        setup = _setup_at(path)
        if setup is None or setup.craft.radio != radio:
            continue
        for purpose, switch in _switches_by_purpose(setup):
            votes.setdefault(purpose, Counter())[switch] += 1
            craft.setdefault((purpose, switch), setup.craft.name)
    best = {purpose: count.most_common(1)[0][0] for purpose, count in votes.items()}
    return {purpose: SwitchHabit(switch, craft[purpose, switch]) for purpose, switch in best.items()}


def habits_by_question(folder: Path, radio: object) -> dict[str, SwitchHabit]:
    """The same by the keys of the interview's questions; none where there is no radio."""
    habits = switch_habits(folder, radio) if isinstance(radio, str) and radio else {}
    return {question.key: habits[question.habit] for question in interview().questions if question.habit in habits}


def suggested_switches(folder: Path, radio: str) -> dict[str, str]:
    return {key: habit.switch for key, habit in habits_by_question(folder, radio).items()}


def _setup_at(path: Path) -> Setup | None:
    try:
        if path.is_symlink() or not path.is_file():
            return None
        data = files.content(files.Candidate(str(path), str(path), False))
    except OSError:
        return None
    if len(data) > files.LARGEST or not files.is_setup_text(data):
        return None
    return loaded_setup(data, path.name, Folder(path))[1]


def _switches_by_purpose(setup: Setup) -> list[tuple[str, str]]:
    """The one switch that each is made of, where it is one alone."""
    formulas = {
        "hold": setup.intent.hold,
        "rescue": setup.intent.rescue,
        "flight": next((m.when for m in setup.modes.values() if m.when is not None), None),
    }
    found = []
    for purpose, formula in formulas.items():
        names = {a.switch for a in f.atoms(formula) if isinstance(a, f.SwitchIs)} if formula is not None else set()
        if len(names) == 1:
            found.append((purpose, names.pop()))
    return found
