"""setuplint.toml in the editor: its mistakes, completions, and what its keys and the rules in it mean."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import cache
from itertools import islice
from pathlib import Path

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.club import config, nearest
from setuplint.club.policy import text_problems
from setuplint.club.schema import changeable, json_schema, limit_words
from setuplint.findings import SIGNALS, Finding, Place, Report
from setuplint.formats.markdown_text import escaped
from setuplint.formats.rule_pages import MEANS
from setuplint.server.analysis import Analysis
from setuplint.server.completion import Completion, Completions
from setuplint.server.cursor import Cursor, cursor
from setuplint.server.hover import page_markdown, rule_markdown
from setuplint.server.parsed import ParsedText
from setuplint.server.table_pieces import path_at, spans_at
from setuplint.setup.problems import value_at
from setuplint.source import Document, Span, parsed_document
from setuplint.source import Path as Steps

MOST_ENTRIES = 1000  # of the file's folder


def analysis(parsed: ParsedText, path: str) -> Analysis:
    """The text of a setuplint.toml, its path given, with each mistake as a finding at its place."""
    found = tuple(
        Finding(nearest.NAME, "caution", each.what, "", Place(span=each.span))
        for each in text_problems(parsed.own, nearest.given_config(path))
    )
    return Analysis(parsed, Report(parsed.texts.name, parsed.texts, found), found)


def text_mistakes(text: str, path: str) -> list[config.Wrong]:
    """The mistakes that a text would have at a path."""
    return text_problems(parsed_document(text, nearest.NAME), nearest.given_config(path))


# -- hovers


def markdown_at(document: Document, path: str, offset: int) -> tuple[str, Span] | None:
    """Markdown for an offset, and the span that it is about; `path` is that of the file."""
    steps = path_at(document, offset)
    span = next(spans_at(document, steps, offset), None) if steps is not None else None
    if steps is None or span is None:
        return None
    paragraphs = list(_paragraphs(document, path, steps))
    return ("\n\n".join(paragraphs), span) if paragraphs else None


def _paragraphs(document: Document, path: str, at: Steps) -> Iterator[str]:
    given = value_at(document.values, at)
    if at[0] == "limits" and len(at) > 1:
        rule, _, limit = ".".join(map(str, at[1:])).partition(".")
        found = rulebook.rules().get(rule)
        if found is not None and limit in found.limits:
            yield escaped(limit_words(found, limit))
        yield from rule_markdown(rule)
    elif at[0] == "never-waive" and len(at) == 2 and isinstance(given, str):
        if given in SIGNALS:
            yield f"**{given}**: {MEANS[given]}"
        yield from rule_markdown(given) or _club_rule_markdown(document, path, given)
    elif at[0] == "rules" and len(at) == 2 and isinstance(given, str):
        for each in _club_pages(document, path, given):
            yield f"**{each.rule.name}**: {escaped(each.rule.title)} ({each.rule.signal})"
    else:
        node = json_schema()["properties"].get(at[0])
        if node is not None:
            yield f"**{at[0]}**: {escaped(str(node['description']))}"


def _club_rule_markdown(document: Document, path: str, name: str) -> list[str]:
    return [page_markdown(page) for page in _club_pages(document, path) if page.rule.name == name][:1]


def _club_pages(document: Document, path: str, folder: str = "") -> list[rule_file.Page]:
    """The rules in the folders that the text names, or in one of them; none where they cannot be read."""
    folders = config.rule_folders(document, nearest.given_config(path))
    own = os.path.realpath(os.path.join(os.path.dirname(path), folder)) if folder else ""
    try:
        return list(club_rules.club_pages([Path(each) for each in folders if not own or each == own]).values())
    except (OSError, rule_file.BookError):
        return []


# -- completions


def completions(document: Document, path: str, text: str, offset: int) -> Completions:
    """The completions at an offset of a text; `document` is the same text as read."""
    here = cursor(text, offset)
    table = value_at(document.values, here.path)
    taken = set(table) - {here.typed} if isinstance(table, dict) else set()
    start = here.start
    if here.kind == "heading":
        closed = text.startswith("]", offset)
        return Completions(Span(start, offset), list(_heading_completions(here, closed)))
    if here.kind == "key":
        start -= 1 if here.quote else 0
        return Completions(Span(start, offset), [each for each in _key_completions(here) if each.label not in taken])
    if here.kind == "value" and here.path:
        return Completions(Span(start, offset), list(_value_completions(here, document, path)))
    return Completions(Span(offset, offset), [])


def _heading_completions(here: Cursor, closed: bool) -> Iterator[Completion]:
    end = "" if closed else "]"
    if not here.path:
        yield Completion("limits", "table", _description("limits"), f"limits{end}")
    elif here.path == ("limits",):
        yield from (
            Completion(each, "rule", rulebook.rules()[each].title, f"{each}{end}") for each in _limits_by_rule()
        )


def _key_completions(here: Cursor) -> Iterator[Completion]:
    if not here.path:
        for key in config.KEYS:
            if key == "limits":
                yield Completion(f"[{key}]", "table", _description(key), f"[{key}]")
            else:
                yield Completion(key, "key", _description(key), f"{key} = ")
        return
    if here.path[0] != "limits" or len(here.path) > 2:
        return
    for name, limits in _limits_by_rule().items():
        rule = rulebook.rules()[name]
        for limit in limits:
            if len(here.path) == 2 and here.path[1] == name:
                yield Completion(limit, "key", limit_words(rule, limit), f"{limit} = ")
            elif len(here.path) == 1:
                label = f"{name}.{limit}"
                key = f'"{label}"' if here.quote else label
                yield Completion(label, "key", limit_words(rule, limit), f"{key} = ")


def _value_completions(here: Cursor, document: Document, path: str) -> Iterator[Completion]:
    top, inside = here.path[0], len(here.path) > 1
    if top == "limits":
        node = value_at(json_schema()["properties"]["limits"]["properties"], _schema_steps(here.path))
        if isinstance(node, dict) and not here.quote and not here.typed and "examples" in node:
            yield Completion(str(node["examples"][0]), "example", str(node["description"]), str(node["examples"][0]))
    elif top == "edition" and not here.quote:
        years = json_schema()["properties"]["edition"]["enum"]
        yield from (Completion(str(year), "word", _description("edition"), str(year)) for year in years)
    elif top == "fail-on":
        yield from (_text_completion(here, each, "word", MEANS[each]) for each in SIGNALS)
    elif top == "never-waive":
        given = value_at(document.values, ("never-waive",))
        taken = [each for each in given if each != here.typed] if isinstance(given, list) else []
        titles: dict[str, str] = {**MEANS, **{name: rule.title for name, rule in rulebook.rules().items()}}
        titles |= {page.rule.name: page.rule.title for page in _club_pages(document, path)}
        for name, title in titles.items():
            if name not in taken:
                yield _text_completion(here, name, "word" if name in SIGNALS else "rule", title, is_item=inside)
    elif top == "rules":
        yield from (_text_completion(here, each, "table", is_item=inside) for each in _rule_folders(path))


def _schema_steps(path: Steps) -> Steps:
    """The steps in the schema's limits to the node of a limit."""
    return path[1:] if len(path) == 2 else (path[1], "properties", *path[2:])


def _text_completion(here: Cursor, word: str, kind: str, about: str = "", *, is_item: bool = True) -> Completion:
    """A word in quotes; in brackets too where it begins a list."""
    text = word if here.quote else f'"{word}"'
    return Completion(word, kind, about, text if is_item or here.quote else f"[{text}]")


@cache
def _limits_by_rule() -> dict[str, list[str]]:
    """The limits that a club can tighten, by rule."""
    found = {rule.name: changeable(rule) for rule in rulebook.rules().values()}
    return {name: limits for name, limits in found.items() if limits}


def _description(key: str) -> str:
    return str(json_schema()["properties"][key].get("description", ""))


def _rule_folders(path: str) -> Iterator[str]:
    """Folders beside the file with TOML files in them."""
    try:
        with os.scandir(os.path.dirname(path)) as entries:
            folders = sorted(each.name for each in islice(entries, MOST_ENTRIES) if each.is_dir(follow_symlinks=False))
    except OSError:
        return
    for name in folders:
        if not name.startswith(".") and any(Path(os.path.dirname(path), name).glob("*.toml")):
            yield name
