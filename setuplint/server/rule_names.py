"""The names in the formula of a club's rule: those of the safe reference set-up, and of those that its examples describe."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from setuplint.club import examples
from setuplint.server.formula_words import Word, formula_words
from setuplint.server.occurrences import KIND_OF_TABLE, TABLE_OF_KIND, Name, control_name, declarations
from setuplint.server.parsed import ParsedText
from setuplint.server.part_markdown import name_markdown
from setuplint.server.table_pieces import span_within
from setuplint.setup.formula_parser import parsed_formula
from setuplint.setup.formulas import FormulaError
from setuplint.setup.names import names_of_setup, resolved_formula
from setuplint.setup.problems import SetupProblem
from setuplint.source import Document, Path, Span

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


def unusable_names(document: Document, path: Path, formula: str) -> Iterator[tuple[Span, str]]:
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


def name_paragraphs(document: Document, path: Path, formula: str, offset: int) -> tuple[str, Span] | None:
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
