"""A club's rule in the editor: what keeps it from being one, whether it speaks as its examples say, and its words; the
names in its formula are those of the safe reference set-up, and of those that its examples describe."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.club import config, examples, nearest
from setuplint.club.choosing import choices_with
from setuplint.club.config import Config, ConfigError
from setuplint.club.config_sources import DISK
from setuplint.club.policy import policy_of
from setuplint.dataclass import replace
from setuplint.findings import SIGNALS, Finding, Place, Report
from setuplint.formats.rule_pages import MEANS
from setuplint.server.analysis import Analysis
from setuplint.server.completion import Completion, Completions, formula_completions
from setuplint.server.corrections import rest_of_line
from setuplint.server.cursor import Cursor, cursor
from setuplint.server.formula_words import Word, formula_words
from setuplint.server.hover import predicate_paragraphs
from setuplint.server.occurrences import KIND_OF_TABLE, TABLE_OF_KIND, Name, control_name, declarations
from setuplint.server.parsed import ParsedText
from setuplint.server.part_markdown import name_markdown
from setuplint.server.table_pieces import path_at, span_within, spans_at
from setuplint.setup.formula_parser import parsed_formula
from setuplint.setup.formulas import FormulaError
from setuplint.setup.names import names_of_setup, resolved_formula
from setuplint.setup.problems import SetupProblem, value_at
from setuplint.source import Document, Span, parsed_document
from setuplint.source import Path as Steps

RULE = "club-rule"
SAVED = " (until this is a rule again, set-ups are judged by it as it was saved)"
MOST_TRIED = 30  # examples: each costs a lint
FORMULAS = (("never",), ("always",))
PLACED = re.compile(r"(\d+):(\d+): (.*)", re.DOTALL)
KEYS: Mapping[str, Mapping[str, str]] = {
    "": {
        "signal": "danger, caution or notice",
        "title": "what is wrong where it speaks, in a few words",
        "why": "why that matters",
        "remedy": "what to do",
        "never": "the formula that may hold in no moment",
        "always": "the formula that has to hold in every moment",
    },
    "sources": {"basis": "published, practice or memory", "says": "what the source says", "where": "where it stands"},
    "examples": {
        "speaks": "whether the rule has to speak of this set-up",
        "edit": "what is other than in the safe reference set-up, by dotted paths",
        "remove": "what the reference set-up has and this has not, a list of dotted paths",
        "text": "a whole set-up in its place",
    },
}


def is_rule_file(path: str, texts: Mapping[str, str]) -> bool:
    """Whether a file lies in a folder of rules that a setuplint.toml above it names; `texts` are open, by real path."""
    real = os.path.realpath(path)
    if not real.endswith(".toml") or os.path.basename(real) == nearest.NAME:
        return False
    for found in nearest.config_files(real):
        try:
            text = texts.get(found.path) or DISK.content(found.path, found.root, club_rules.LARGEST)
        except OSError:
            continue
        if os.path.dirname(real) in config.rule_folders(parsed_document(text, nearest.NAME), found):
            return True
    return False


def mistakes(parsed: ParsedText, path: str) -> Analysis:
    """What keeps a text from being a rule."""
    try:
        page = _page(parsed, path)
        if page.rule.name in rulebook.rules():
            return _analysis(
                parsed, [(Span(0, 0), f"there is a rule {page.rule.name} already: give the file another name")]
            )
    except rule_file.BookError as error:
        span, what = _placed(parsed.own, os.path.basename(path), str(error))
        return _analysis(parsed, [(span, f"{what}{SAVED if _is_saved(path) else ''}")])
    return _analysis(parsed, [])


def _is_saved(path: str) -> bool:
    """Whether what is on the disk is a rule."""
    try:
        club_rules.club_rule(Path(path))
    except (OSError, rule_file.BookError):
        return False
    return True


def tested(parsed: ParsedText, path: str, before_each: Callable[[], None]) -> Analysis:
    """Where it does not do as its examples say; a text that is a rule. `before_each` is called before each example; what it
    raises ends the work."""
    from setuplint import library

    page = _page(parsed, path)
    text = club_rules.RuleText(os.path.realpath(path), os.path.basename(path), parsed.own.text.encode())
    by = choices_with(_policy_without(text.path), [text])
    found = [(Span(0, 0), what) for what in examples.lacking(page)]
    key, formula = _formula(page.rule)
    found += unusable_names(parsed.own, (key,), formula)
    for number, example in enumerate(page.examples[:MOST_TRIED]):
        before_each()
        outcome = examples.outcome(page.rule.name, example, lambda texts: library.lint_together(texts, choices=by))
        start = parsed.own.span(("examples", number))
        found += [(start, what) for what in outcome.wrong]
    left = len(page.examples) - MOST_TRIED
    if left > 0:
        found.append((Span(0, 0), f"{left} of its examples are not tried here: `setuplint rules-test` tries them all"))
    return _analysis(parsed, found)


def _formula(rule: rule_file.Rule) -> tuple[str, str]:
    """The key of a claim's formula, and the formula."""
    return ("never", rule.never) if rule.never is not None else ("always", rule.always or "")


def _page(parsed: ParsedText, path: str) -> rule_file.Page:
    return club_rules.page_of(club_rules.RuleText(path, os.path.basename(path), parsed.own.text.encode()))


def _policy_without(path: str) -> Config | None:
    """What is chosen for a rule's examples, without the rule itself as it is on the disk."""
    try:
        policy = policy_of(nearest.config_files(path))
    except ConfigError:
        return None
    return policy and replace(policy, rules=tuple(each for each in policy.rules if each.path != path))


def _analysis(parsed: ParsedText, found: list[tuple[Span, str]]) -> Analysis:
    findings = tuple(Finding(RULE, "caution", what, "", Place(span=span)) for span, what in found)
    return Analysis(parsed, Report(parsed.texts.name, parsed.texts, findings), findings)


def _placed(document: Document, name: str, message: str) -> tuple[Span, str]:
    """A message that begins with a place in the file of that name."""
    bare = message.removeprefix(f"{name}:").strip()
    found = PLACED.fullmatch(bare)
    if found is None:
        return Span(0, 0), bare
    start = document.line_start(int(found[1])) + int(found[2]) - 1
    return Span(start, start + max(1, len(rest_of_line(document.text, start)))), found[3]


# -- hovers


def markdown_at(parsed: ParsedText, offset: int) -> tuple[str, Span] | None:
    """What a key, a predicate or a name at an offset means, and the span that it is about."""
    path = path_at(parsed.own, offset)
    if path is None:
        return None
    formula = value_at(parsed.own.values, path)
    if path in FORMULAS and isinstance(formula, str):
        found = predicate_paragraphs(parsed, path, list(formula_words(formula)), offset)
        if found is not None:
            return found[0][0], found[1]
        named = name_paragraphs(parsed.own, path, formula, offset)
        if named is not None:
            return named
    about = KEYS.get("" if len(path) == 1 else str(path[0]), {}).get(str(path[-1]))
    span = next(spans_at(parsed.own, path, offset), None)
    return (f"**{path[-1]}**: {about}", span) if about and span is not None else None


# -- completions


def completions(text: str, offset: int) -> Completions:
    """The completions at an offset of a rule's text; names in its formula are those of the reference set-up
    and of its examples."""
    here = cursor(text, offset)
    if here.kind == "value" and here.path in FORMULAS:
        values = all_names(parsed_document(text).values)
        return formula_completions(here, offset, values, ("claims", 0, "never"))
    if here.kind == "heading":
        named = [
            Completion(name, "table", text=f"{name}]]") for name in KEYS if name and not text.startswith("]", offset)
        ]
        return Completions(Span(here.start, offset), named)
    if here.kind in ("key", "value") and len(here.quote) < 3:
        made = _key_completions(here, text) if here.kind == "key" else _value_completions(here)
        return Completions(Span(here.start, offset), list(made))
    return Completions(Span(offset, offset), [])


def _key_completions(here: Cursor, text: str) -> Iterator[Completion]:
    table = value_at(parsed_document(text).values, here.path)
    taken = set(table) - {here.typed} if isinstance(table, dict) else set()
    for key, about in KEYS.get(str(here.path[0]) if here.path else "", {}).items():
        if key not in taken and len(here.path) in (0, 2) and not here.quote:
            yield Completion(key, "key", about, f"{key} = ")


def _value_completions(here: Cursor) -> Iterator[Completion]:
    words: dict[str, str] = {}
    if here.path == ("signal",):
        words = {each: MEANS[each] for each in SIGNALS}
    elif here.path[:1] == ("sources",) and here.path[-1] == "basis":
        words = dict.fromkeys(rule_file.BASES, "")
    elif here.path[:1] == ("examples",) and here.path[-1] == "speaks" and not here.quote:
        yield from (Completion(each, "word") for each in ("true", "false"))
    for word, about in words.items():
        yield Completion(word, "word", about, word if here.quote else f'"{word}"')


MOST = 30  # set-ups that are described
REFERENCE = "the safe reference set-up"


def described(values: Mapping[str, Any]) -> Iterator[tuple[str, ParsedText]]:
    """What each set-up is called, and the set-up; `values` are those of the rule's text, which may be unfinished."""
    yield REFERENCE, _parsed(examples.reference())
    found = values.get("examples")
    for number, example in enumerate(found[:MOST] if isinstance(found, list) else (), start=1):
        text = _text(example) if isinstance(example, dict) else None
        if text is not None:
            yield f"example {number}", _parsed(text)


def _text(example: Mapping[str, Any]) -> str | None:
    text, edit, remove = example.get("text"), example.get("edit", {}), example.get("remove", [])
    if isinstance(text, str):
        return text
    if not isinstance(edit, dict) or not isinstance(remove, list) or not all(isinstance(each, str) for each in remove):
        return None
    try:
        return examples.edited(examples.reference(), edit, remove)
    except (examples.ExampleError, TypeError, ValueError):
        return None


@lru_cache(maxsize=MOST + 1)
def _parsed(text: str) -> ParsedText:
    return ParsedText(text, "reference.toml")


def all_names(values: Mapping[str, Any]) -> dict[str, Any]:
    """The values of the reference set-up, with the named parts of all that are described."""
    tops = [each.texts.values for _, each in described(values)]
    parts: dict[str, Any] = {}
    for table in KIND_OF_TABLE:
        for top in reversed(tops):
            parts[table] = {**parts.get(table, {}), **declarations(top, table)}
    return {**tops[0], **parts}


def unusable_names(document: Document, path: Steps, formula: str) -> Iterator[tuple[Span, str]]:
    """What of a formula no set-up has, or can show, that is described: no example tells whether the rule works."""
    try:
        written = parsed_formula(formula)
    except FormulaError:
        return  # said already
    first: list[SetupProblem] | None = None
    for _, each in described(document.values):
        _, problems = resolved_formula(written, names_of_setup(each.setup), claim=True)
        places = {problem.within for problem in problems}
        first = problems if first is None else [problem for problem in first if problem.within in places]
    for problem in first or ():
        where = " in the reference set-up or in an example, so that nothing shows whether the rule works"
        words = f"{problem.message}{where if problem.rule == 'unknown-name' else ''}: {problem.help}"
        start, end = problem.within or (0, len(formula))
        yield span_within(document, path, start, end), words


def name_paragraphs(document: Document, path: Steps, formula: str, offset: int) -> tuple[str, Span] | None:
    """What a name at an offset is, in the first of the set-ups that are described and have it."""
    for word in formula_words(formula):
        span = span_within(document, path, word.start, word.end)
        if not span.start <= offset <= span.end:
            continue
        for where, parsed in described(document.values):
            name = _name(word, parsed.texts.values)
            if name is not None:
                return "\n\n".join([f"in {where}:", *name_markdown(parsed, name)]), span
    return None


def _name(word: Word, values: Mapping[str, Any]) -> Name | None:
    """The part of a set-up that a word stands for."""
    if word.role in ("control", "stick"):
        return control_name(values, word.text)
    if word.role == "position":
        return Name("position", word.text, word.of) if word.of in declarations(values, "switches") else None
    if word.role in ("mode", "channel") and word.text in declarations(values, TABLE_OF_KIND[word.role]):
        return Name(word.role, word.text)
    return None
