"""A rule's examples: the setups that they describe, and whether the rules speak on them as they say."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal
from functools import cache
from types import MappingProxyType
from typing import Any

from setuplint.book import rulebook
from setuplint.book.rule_file import Example, Page
from setuplint.findings import Report
from setuplint.named_tuple import NamedTuple

DEEPEST = 12  # steps of a dotted path: no part of a setup lies deeper

NO_SETUP = ("not-toml", "not-a-setup")

Texts = Mapping[str, str]
Reports = Sequence[Report]
Lint = Callable[[Texts], Reports]


class ExampleError(ValueError):
    """Why an example describes no setup."""


@cache
def reference() -> str:
    """The safe reference setup that examples edit: examples/reference.toml, beside the rules in a checkout and a wheel."""
    return (rulebook.folder().parent / "examples" / "reference.toml").read_text(encoding="utf-8")


def text_of(example: Example) -> str:
    """The setup that an example describes: its own text, or the reference setup with its edits. ExampleError where these
    do not fit it."""
    return example.text if example.text is not None else edited(reference(), example.edit, example.remove)


def beside_of(example: Example) -> str | None:
    """The second setup of an example, linted together with it: the reference setup with other edits."""
    return None if example.beside is None else edited(reference(), example.beside)


def edited(text: str, edit: Mapping[str, Any], remove: Sequence[str] = ()) -> str:
    """A setup without the parts to remove, then with the edited ones. ExampleError where it has no such part."""
    import tomli_w

    setup: dict[str, Any] = tomllib.loads(text, parse_float=Decimal)
    for path in remove:
        *way, last = _steps(path)
        holder: Any = setup
        try:
            for step in way:
                holder = holder[step]
            del holder[last]
        except (KeyError, TypeError, IndexError):
            raise ExampleError(f"remove names {path}, which the reference setup does not have") from None
    for path, value in edit.items():
        try:
            put_value(setup, path, value)
        except ExampleError:
            raise
        except (AttributeError, TypeError, ValueError, IndexError):
            raise ExampleError(f"{path} cannot be put into the reference setup") from None
    return tomli_w.dumps(setup)


def put_value(setup: dict[str, Any], path: str, value: Any) -> None:
    """Set one part; tables on the way are made where they are missing, and in a list a number is an item's place
    (the number after the last appends)."""
    *way, last = _steps(path)
    holder: Any = setup
    for step in way:
        holder = holder[int(step)] if isinstance(holder, list) else holder.setdefault(step, {})
    if not isinstance(holder, list):
        holder[last] = value
    elif int(last) == len(holder):
        holder.append(value)
    else:
        holder[int(last)] = value


def _steps(path: str) -> list[str]:
    steps = path.split(".")
    if len(steps) > DEEPEST:
        raise ExampleError(f"{path[:40]}... has more than {DEEPEST} steps")
    return steps


class Outcome(NamedTuple):
    """How an example turns out: what is not as it says, in words, and the other rules that report something on it, each with
    its message. Those are no mistake: an edit may break more than one rule."""

    wrong: tuple[str, ...]
    beside: Mapping[str, str] = MappingProxyType({})


def outcome(rule: str, example: Example, lint: Lint) -> Outcome:
    """Of an example of a rule; `lint` takes texts by their names."""
    try:
        texts = {"reference.toml": text_of(example)}
        beside = beside_of(example)
    except ExampleError as error:
        return Outcome((str(error),))
    texts |= {f"reference.{n}.record.json": json.dumps(each) for n, each in enumerate(example.records)}
    reports = lint(texts | ({} if beside is None else {"beside.toml": beside}))
    messages: dict[str, str] = {}
    for finding in (finding for report in reports for finding in report.findings):
        messages.setdefault(finding.rule, finding.message)
    message = messages.pop(rule, None)
    broken = next((messages[name] for name in NO_SETUP if name in messages), None)
    if broken is not None:
        return Outcome((f"it describes no setup: {broken}",), messages)
    if example.speaks and message is None:
        because = list(dict.fromkeys(n.because for report in reports for n in report.not_judged if n.rule == rule))
        why = f": not judged, because {'; '.join(because)}" if because else ""
        return Outcome((f"it should find something, and is silent{why}",), messages)
    if not example.speaks and message is not None:
        return Outcome((f"it should be silent, and finds: {message}",), messages)
    return Outcome((), messages)


def lacking(page: Page) -> Iterator[str]:
    """The examples that a rule ought to have, and has not."""
    for speaks, words in ((True, "it finds something"), (False, "it is silent")):
        if not any(example.speaks is speaks for example in page.examples):
            yield f"there is no example on which {words}"
