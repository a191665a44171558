"""Which condition, curve, override, alarm or timer is which: by name; of those left, by what they mean."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from setuplint.budget import Spent
from setuplint.comparison.joined import Side, sides
from setuplint.comparison.matching import Matching, name_matching
from setuplint.dataclass import replace
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

Key = Callable[[Side, str], object]  # what parts of one key have in common; None: this one has no key


def full_matching(old: Setup, new: Setup, spent: Spent | None = None) -> Matching:
    """Every part of the one that is a part of the other. OutOfBudget."""
    matching = name_matching(old, new)
    pair = sides(old, new, matching, spent)

    def channel(side: Side, name: str) -> str:
        own = side.setup.overrides[name].channel
        return matching.channels.get(own, own) if side.tag == "old" else own

    def override(side: Side, name: str) -> object:
        part = side.setup.overrides[name]
        return channel(side, name), frozenset(part.numbers.items()), part.priority, side.formula(part.when)

    def decides(side: Side, name: str) -> object:
        return channel(side, name), side.formula(side.setup.overrides[name].when)

    return replace(
        matching,
        conditions=_matched_names(pair, "conditions", [lambda side, name: side.conditions[name]]),
        curves=_matched_names(pair, "curves", [lambda side, name: replace(side.setup.curves[name], name="")]),
        overrides=_matched_names(pair, "overrides", [override, decides]),
        alarms=_matched_names(pair, "alarms", [_alarm, _sounds, _voice("alarms")], only=True),
        timers=_matched_names(pair, "timers", [_timer, _runs, _voice("timers")], only=True),
    )


def _matched_names(pair: tuple[Side, Side], kind: str, keys: Sequence[Key], *, only: bool = False) -> Mapping[str, str]:
    """By name; of the others each with the first of an equal key, the closest kind of key first; with `only`, also the only one
    left on each side."""
    old, new = pair
    found = {name: name for name in getattr(old.setup, kind) if name in getattr(new.setup, kind)}
    left = [name for name in getattr(old.setup, kind) if name not in found]
    others = [name for name in getattr(new.setup, kind) if name not in found]
    for key in keys:
        by_key: dict[object, list[str]] = {}
        for name in reversed(others):
            by_key.setdefault(key(new, name), []).append(name)
        taken = set[str]()
        for name in left:
            mine = key(old, name)
            if mine is not None and by_key.get(mine):
                found[name] = by_key[mine].pop()
                taken.add(found[name])
        left = [name for name in left if name not in found]
        others = [name for name in others if name not in taken]
    if only and len(left) == len(others) == 1:
        found[left[0]] = others[0]
    return found


def _alarm(side: Side, name: str) -> object:
    return _sounds(side, name), replace(side.setup.alarms[name], name="", when=f.TRUE)


def _sounds(side: Side, name: str) -> object:
    return side.formula(side.setup.alarms[name].when)


def _timer(side: Side, name: str) -> object:
    return _runs(side, name), replace(side.setup.timers[name], name="", runs=None)


def _runs(side: Side, name: str) -> object:
    return side.formula(side.setup.timers[name].runs or f.TRUE)


def _voice(kind: str) -> Key:
    return lambda side, name: getattr(side.setup, kind)[name].voice
