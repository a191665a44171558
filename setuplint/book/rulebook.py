"""The rule book: every file of `rules/` together.

Every start of the command reads all the heads and nothing below them: a file's head ends at the first line that begins
with `[[`. A built package has them as a module (`hatch_build.py`). `page` reads a whole file.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from types import MappingProxyType

from setuplint.book.rule_file import BookError, Page, Rule, read_rule, rule_of_head, toml_values
from setuplint.dataclass import replace
from setuplint.hints import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

PACKAGE = os.path.dirname(os.path.dirname(__file__))


def folder() -> Path:
    """Where the rule files are: beside the package in a checkout, inside it once installed.

    An editable install leaves a copy that grows stale, so a checkout's own come first; `pyproject.toml` tells a
    checkout from a folder of packages in which some other one is called `rules`.
    """
    from pathlib import Path

    return Path(os.path.dirname(PACKAGE) if _is_in_checkout() else PACKAGE, "rules")


def _is_in_checkout() -> bool:
    checkout = os.path.dirname(PACKAGE)
    return os.path.isdir(os.path.join(checkout, "rules")) and os.path.isfile(os.path.join(checkout, "pyproject.toml"))


@cache
def rules() -> Mapping[str, Rule]:
    """Every rule of the book, sorted by name. BookError where a rule names another one, or a limit, that is not there."""
    found = {name: rule_of_head(head, name) for name, head in _heads().items()}
    for rule in found.values():
        for other in (*rule.said_by, *(limit.home for limit in rule.limits.values() if limit.home)):
            if other not in found:
                raise BookError(f"{rule.name}: there is no rule {other}")
    return MappingProxyType({name: _with_shared_limits(rule, found) for name, rule in found.items()})


def _heads() -> Mapping[str, Mapping[str, Any]]:
    """The heads by name, as data: as the build prepared them, in a checkout from the files."""
    if not _is_in_checkout():
        try:
            prepared: Mapping[str, Mapping[str, Any]] = import_module("setuplint.book.prepared_heads").HEADS
            return prepared
        except ModuleNotFoundError:
            pass  # put together by something else than our build
    return {path.stem: toml_values(_head(_text(path))) for path in _files()}


def heads_written() -> str:
    """The module `prepared_heads`, as text: for the build."""
    heads = {path.stem: toml_values(_head(_text(path))) for path in _files()}
    return f"from decimal import Decimal\n\nHEADS = {heads!r}\n"


def _with_shared_limits(rule: Rule, found: Mapping[str, Rule]) -> Rule:
    """The rule with the numbers of limits that are another rule's."""
    shared = {name: limit.home for name, limit in rule.limits.items() if limit.home}
    if not shared:
        return rule
    try:
        numbers = {name: replace(found[home].limits[name], home=home) for name, home in shared.items()}
    except KeyError as error:
        raise BookError(f"{rule.name}: the rule that it names has no limit {error.args[0]}") from None
    return replace(rule, limits=MappingProxyType({**rule.limits, **numbers}))


def names_asked(when: str) -> frozenset[str]:
    """The rules whose file says under `asked` that they are asked then: loading, first, afterwards."""
    return frozenset(rule.name for rule in rules().values() if rule.asked == when)


def page(name: str) -> Page:
    """A rule's whole file. KeyError(name, near): there is no such rule; `near` is a tuple of the closest names."""
    if name not in rules():
        from difflib import get_close_matches

        raise KeyError(name, tuple(get_close_matches(name, rules(), n=3)))
    found = read_rule(_text(folder() / f"{name}.toml"), name)
    return replace(found, rule=rules()[name])


def _files() -> list[Path]:
    return sorted(folder().glob("*.toml"), key=lambda path: path.stem)


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _head(text: str) -> str:
    end = text.find("\n[[")
    return text if end < 0 else text[: end + 1]
