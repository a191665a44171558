"""setuplint.toml in the editor: what is wrong in it, what may come next, what its keys and the rules in it mean."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import cache
from itertools import islice
from pathlib import Path

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.club import config, nearest
from setuplint.club.schema import changeable, json_schema, limit_words
from setuplint.findings import SIGNALS, Finding, Place, Report
from setuplint.formats.markdown_text import escaped
from setuplint.formats.rule_page import MEANS
from setuplint.server import format_schema, hover
from setuplint.server.analysis import Analysis, Reading
from setuplint.server.completion import Choice, Choices
from setuplint.server.cursor import Cursor, cursor
from setuplint.server.names import path_at, value
from setuplint.source import Document, Span, parsed_document
from setuplint.source import Path as Steps

MOST_FOLDERS = 1000  # that are looked at beside the file


def analysis(reading: Reading, path: str) -> Analysis:
    """What is wrong with the text of a setuplint.toml that lies at a path, each mistake a finding at its place."""
    mistakes = config.problems(reading.own, nearest.given(path))
    found = tuple(Finding(nearest.NAME, "caution", each.what, "", Place(span=each.span)) for each in mistakes)
    return Analysis(reading, Report(reading.texts.name, reading.texts, found), found)


def wrong(text: str, path: str) -> list[config.Wrong]:
    """The mistakes of a text that would lie there."""
    return config.problems(parsed_document(text, nearest.NAME), nearest.given(path))


# -- what it means


def told(document: Document, path: str, offset: int) -> tuple[str, Span] | None:
    """Markdown for a place of the text, and the part that it is about."""
    at = path_at(document, offset)
    if at is None:
        return None
    for span in (*document.key_spans(at), document.value_span(at)):
        if span is not None and span.start <= offset <= span.end:
            parts = list(_told(document, path, at))
            return ("\n\n".join(parts), span) if parts else None
    return None


def _told(document: Document, path: str, at: Steps) -> Iterator[str]:
    given = value(document.values, at)
    if at[0] == "limits" and len(at) > 1:
        rule, _, limit = ".".join(map(str, at[1:])).partition(".")
        found = rulebook.rules().get(rule)
        if found is not None and limit in found.limits:
            yield escaped(limit_words(found, limit))
        yield from hover.rule(rule)
    elif at[0] == "never-waive" and len(at) == 2 and isinstance(given, str):
        if given in SIGNALS:
            yield f"**{given}**: {MEANS[given]}"
        yield from hover.rule(given) or _of_club(document, path, given)
    elif at[0] == "rules" and len(at) == 2 and isinstance(given, str):
        for rule_of_club in _clubs(document, path, given):
            yield f"**{rule_of_club.rule.name}**: {escaped(rule_of_club.rule.title)} ({rule_of_club.rule.signal})"
    else:
        node = json_schema()["properties"].get(at[0])
        if node is not None:
            yield f"**{at[0]}**: {escaped(str(node['description']))}"


def _of_club(document: Document, path: str, name: str) -> list[str]:
    found = next((page for page in _clubs(document, path) if page.rule.name == name), None)
    return [] if found is None else [hover.rule_page(found)]


def _clubs(document: Document, path: str, folder: str = "") -> list[rule_file.Page]:
    """The rules in the folders that the text names, or in one of them; none where they cannot be read."""
    folders = config.folders(document, nearest.given(path))
    own = os.path.realpath(os.path.join(os.path.dirname(path), folder)) if folder else ""
    try:
        return list(club_rules.pages([Path(each) for each in folders if not own or each == own]).values())
    except (OSError, rule_file.BookError):
        return []


# -- what may come next


def complete(document: Document, path: str, text: str, offset: int) -> Choices:
    """The choices at an offset of a text; `document` is the same text as read, or as it was read last."""
    here = cursor(text, offset)
    there = value(document.values, here.path)
    taken = set(there) - {here.typed} if isinstance(there, dict) else set()
    start = here.start
    if here.kind == "heading":
        closed = text.startswith("]", offset)
        return Choices(Span(start, offset), list(_headings(here, closed)))
    if here.kind == "key":
        start -= 1 if here.quote else 0
        return Choices(Span(start, offset), [each for each in _keys(here) if each.label not in taken])
    if here.kind == "value" and here.path:
        return Choices(Span(start, offset), list(_values(here, document, path)))
    return Choices(Span(offset, offset), [])


def _headings(here: Cursor, closed: bool) -> Iterator[Choice]:
    end = "" if closed else "]"
    if not here.path:
        yield Choice("limits", "table", _about("limits"), f"limits{end}")
    elif here.path == ("limits",):
        yield from (Choice(each, "rule", rulebook.rules()[each].title, f"{each}{end}") for each in _with_limits())


def _keys(here: Cursor) -> Iterator[Choice]:
    if not here.path:
        for key in config.KEYS:
            if key == "limits":
                yield Choice(f"[{key}]", "table", _about(key), f"[{key}]")
            else:
                yield Choice(key, "key", _about(key), f"{key} = ")
        return
    if here.path[0] != "limits" or len(here.path) > 2:
        return
    for name, limits in _with_limits().items():
        rule = rulebook.rules()[name]
        for limit in limits:
            if len(here.path) == 2 and here.path[1] == name:
                yield Choice(limit, "key", limit_words(rule, limit), f"{limit} = ")
            elif len(here.path) == 1:
                label = f"{name}.{limit}"
                key = f'"{label}"' if here.quote else label
                yield Choice(label, "key", limit_words(rule, limit), f"{key} = ")


def _values(here: Cursor, document: Document, path: str) -> Iterator[Choice]:
    top, inside = here.path[0], len(here.path) > 1
    if top == "limits":
        node = value(json_schema()["properties"]["limits"]["properties"], _limit_steps(here.path))
        if isinstance(node, dict) and not here.quote and not here.typed and "examples" in node:
            yield Choice(str(node["examples"][0]), "example", str(node["description"]), str(node["examples"][0]))
    elif top == "edition" and not here.quote:
        years = json_schema()["properties"]["edition"]["enum"]
        yield from (Choice(str(year), "word", _about("edition"), str(year)) for year in years)
    elif top == "fail-on":
        yield from (_text(here, each, "word", MEANS[each]) for each in SIGNALS)
    elif top == "never-waive":
        given = value(document.values, ("never-waive",))
        there = [each for each in given if each != here.typed] if isinstance(given, list) else []
        titles: dict[str, str] = {**MEANS, **{name: rule.title for name, rule in rulebook.rules().items()}}
        titles |= {page.rule.name: page.rule.title for page in _clubs(document, path)}
        for name, title in titles.items():
            if name not in there:
                yield _text(here, name, "word" if name in SIGNALS else "rule", title, listed=not inside)
    elif top == "rules":
        yield from (_text(here, each, "table", listed=not inside) for each in _folders(path))


def _limit_steps(path: Steps) -> Steps:
    """The steps in the schema's limits to the node of a limit."""
    return path[1:] if len(path) == 2 else (path[1], "properties", *path[2:])


def _text(here: Cursor, word: str, kind: str, about: str = "", *, listed: bool = False) -> Choice:
    text = word if here.quote else f'"{word}"'
    return Choice(word, kind, about, f"[{text}]" if listed and not here.quote else text)


@cache
def _with_limits() -> dict[str, list[str]]:
    """The rules with limits that a club can tighten, and these."""
    found = {rule.name: changeable(rule) for rule in rulebook.rules().values()}
    return {name: limits for name, limits in found.items() if limits}


def _about(key: str) -> str:
    return format_schema.about(json_schema()["properties"][key])


def _folders(path: str) -> Iterator[str]:
    """Folders beside the file with TOML files in them."""
    try:
        with os.scandir(os.path.dirname(path)) as entries:
            beside = sorted(each.name for each in islice(entries, MOST_FOLDERS) if each.is_dir(follow_symlinks=False))
    except OSError:
        return
    for name in beside:
        if not name.startswith(".") and any(Path(os.path.dirname(path), name).glob("*.toml")):
            yield name
