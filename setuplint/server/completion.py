"""Completions at a place of the text, which may be broken there while one types."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType

from setuplint.book.rule_file import Rule
from setuplint.named_tuple import NamedTuple
from setuplint.server.cursor import Cursor, cursor
from setuplint.server.formula_words import Word, formula_words, is_formula
from setuplint.server.hover import PREDICATES as MEANINGS
from setuplint.server.occurrences import CONTROL_TABLES, KIND_OF_TABLE, Values, declarations, switch_positions
from setuplint.setup.declarations import STICKS
from setuplint.setup.formulas import PREDICATES
from setuplint.setup.problems import value_at
from setuplint.setup.schema import description
from setuplint.setup.shape import Node, row_at, whole_file
from setuplint.source import Path, Span

LISTS = ("claims", "waivers")
TABLES = ("table", "map", "tables")  # types of rows
NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")
REST_OF_WORD = re.compile(r"[A-Za-z0-9_-]*")
REST_OF_STRING = re.compile(r"(?:[^\"'\r\n]*(?=[\"']))?")
KEY_BEFORE_EQUALS = re.compile(r"([A-Za-z0-9_-]*)\"?(?=[ \t]*=)")


class Completion(NamedTuple):
    """`text` (the label where it is empty) replaces what is typed. `kind` is key, table, word, formula and so on, or the kind
    of a name; `about` says what it means. Those that are `first` are wanted most often."""

    label: str
    kind: str
    about: str = ""
    text: str = ""
    first: bool = False


class Completions(NamedTuple):
    """All that may come, and the span that each of them replaces."""

    replaces: Span
    found: list[Completion]


class CompletionContext(NamedTuple):
    """What the text itself does not say: the paths of files that it may extend, rules and subjects of its findings, and all
    rules."""

    shared_files: Callable[[], Iterable[str]] = tuple
    findings: Iterable[tuple[str, str]] = ()
    rules: Mapping[str, Rule] = MappingProxyType({})


def completions(values: Values, text: str, offset: int, context: CompletionContext | None = None) -> Completions:
    """The completions at an offset of a text. `values` are those of the setup as read last, for the names in them."""
    here = cursor(text, offset)
    start = here.start
    if here.kind == "value" and is_formula(here.path):
        return formula_completions(here, offset, values, here.path)
    if here.kind == "heading":
        return Completions(Span(start, offset), list(_heading_completions(here, text, values)))
    if here.kind == "key":
        start -= 1 if here.quote else 0
        rest = KEY_BEFORE_EQUALS.match(text, offset)
        if rest is None:
            return Completions(Span(start, offset), list(_key_completions(here, values)))
        whole = here._replace(typed=here.typed + rest.group(1))
        found = (x for x in _key_completions(whole, values) if x.kind == "mode" or x.text.endswith(" = "))
        return Completions(Span(start, rest.end()), [x._replace(text=x.text.removesuffix(" = ")) for x in found])
    if here.kind == "value" and here.path and len(here.quote) < 3:
        return Completions(Span(start, offset), list(_value_completions(here, values, context or CompletionContext())))
    return Completions(Span(offset, offset), [])


def placed(found: Completions, each: Completion, text: str, offset: int) -> tuple[Span, str]:
    """What one of them replaces, and its text there: the rest of the word that the cursor is in goes too, and what follows that
    is not written again. In front of a word, what another word has to follow is put in."""
    words = each.text or each.label
    start, end = found.replaces.start, found.replaces.end
    if end == offset and each.kind != "formula" and (start < offset or not words.endswith(" ")):
        rest = (REST_OF_STRING if each.kind == "file" else REST_OF_WORD).match(text, offset)
        end = rest.end() if rest is not None else end
    behind = text[end : end + len(words)]
    cuts = (n for n, sign in enumerate(words) if n and sign in " .]=" and behind.startswith(words[n:]))
    return Span(start, end), words[: next(cuts, len(words))]


def formula_completions(here: Cursor, offset: int, values: Values, path: Path) -> Completions:
    """What may come in a formula, which is one as at a path of a setup."""
    if not here.quote:
        return Completions(Span(here.start, offset), [Completion('"', "formula", "a formula, in quotes", '""')])
    typed = here.typed
    start = offset - len(typed) + len(typed.rstrip("abcdefghijklmnopqrstuvwxyz0123456789-"))
    before = list(formula_words(typed[: len(typed) - (offset - start)]))
    return Completions(Span(start, offset), list(_formula_completions(before, values, path)))


def _heading_completions(here: Cursor, text: str, values: Values) -> Iterator[Completion]:
    """Tables at the top; under a table of named parts, names that are expected there."""
    path = here.path
    if not path:
        yield from _table_headings(here, text)
    elif path == ("sticks",):
        yield from (Completion(name, "stick") for name in STICKS)
    elif len(path) == 3 and path[0] == "channels" and path[2] == "in":
        yield from (Completion(name, "mode") for name in declarations(values, "modes"))
    elif len(path) == 2 and path[0] == "channels":
        yield Completion("in", "table", "what differs in a mode", "in.")


def _table_headings(here: Cursor, text: str) -> Iterator[Completion]:
    double = text[: here.start].rstrip().endswith("[[")
    closed = text.startswith("]", here.start + len(here.typed))
    for name, row in whole_file()["keys"].items():
        about = description(row)
        if name in LISTS:
            end = "" if closed and double else "]" if closed else "]]"
            yield Completion(name, "table", about, f"{'' if double else '['}{name}{end}")
        elif row["type"] in TABLES and not double:
            heading = f"{name}." if name in KIND_OF_TABLE else name if closed else f"{name}]"
            yield Completion(name, "table", about, heading)


def _key_completions(here: Cursor, values: Values) -> Iterator[Completion]:
    """The keys that a table does not have yet."""
    path = here.path
    table = value_at(values, path)
    taken = (set(table) - {here.typed} if isinstance(table, dict) else set()) | here.used
    if path == ("failsafe",):
        yield from _named_keys(declarations(values, "channels"), "channel", taken)
    elif path[:1] == ("channels",) and len(path) == 3 and path[2] == "in":
        yield from (Completion(name, "mode", text=name) for name in declarations(values, "modes") if name not in taken)
    elif path[:1] == ("channels",) and path[-1] in ("values", "at"):
        yield from _named_keys(switch_positions(values, _switch_at(here, values)), "position", taken)
    else:
        yield from _format_keys(path, taken)
    if not path:
        for name in (*KIND_OF_TABLE, *LISTS):
            text = f"[[{name}]]" if name in LISTS else f"[{name}."
            yield Completion(text, "table", description(row_at((name,))), text)


def _named_keys(names: Iterable[str], kind: str, taken: set[str]) -> Iterator[Completion]:
    return (Completion(name, kind, text=f"{name} = ") for name in names if name not in taken)


def _format_keys(path: Path, taken: set[str]) -> Iterator[Completion]:
    """The keys that the format has for a table, those first that it requires."""
    for node in _alternatives(row_at(path)):
        for name, row in node.get("keys", {}).items():
            about = description(row)
            if name in taken or (not path and (name in LISTS or name in KIND_OF_TABLE)):
                continue
            if not path and row["type"] in TABLES:
                yield Completion(f"[{name}]", "table", about, f"[{name}]")
            else:
                text = f"{name}." if name == "in" else f"{name} = "
                yield Completion(name, "key", about, text, name in node["required"])


def _switch_at(here: Cursor, values: Values) -> str:
    """The switch whose positions are the keys of the table that the cursor is in."""
    key = "from" if here.path[-1] == "values" else "switch"
    paths = [(*here.path[:-1], key), *([(*here.path[:2], key)] if key == "from" else [])]
    found = (here.siblings.get(path) or value_at(values, path) for path in paths)
    return next((name for name in found if isinstance(name, str)), "")


def _value_completions(here: Cursor, values: Values, context: CompletionContext) -> Iterator[Completion]:
    """The words and names that a value may be, with quotes where they are not there yet."""
    path, last = here.path, here.path[-1]
    row = row_at(path)
    names = list(_value_names(here, values, context))
    for name, kind, about in names:
        yield Completion(name, kind, about, name if here.quote else f'"{name}"')
    taken = here.siblings.values() if isinstance(last, int) else ()
    for each in _alternatives(row):
        flags = ("true", "false") if each.get("type") == "flag" and not here.quote else ()
        yield from (Completion(word, "word", "", word) for word in flags if word not in taken)
        words = each["choices"] if each.get("type") == "choice" else ()
        yield from (
            Completion(word, "word", "", word if here.quote else f'"{word}"') for word in words if word not in taken
        )
    if last == "positions" or path[-2:-1] == ("positions",) or names:
        return
    example = "" if here.quote or here.typed else row.get("example", "")
    if NUMBER.fullmatch(example):
        yield Completion(example, "example", description(row), example)


def _alternatives(row: Node) -> list[Node]:
    """The row, or each of those that it may be."""
    return row["choices"] if row.get("type") == "either" else [row]


def _value_names(here: Cursor, values: Values, context: CompletionContext) -> Iterator[tuple[str, str, str]]:
    """The names that a value may be, each with its kind and what it means."""
    path, last, table = here.path, here.path[-1], here.path[0]
    if last == "from" and table == "channels":
        yield from ((name, kind, "") for name, kind in _control_names(values, ("sticks", "knobs", "switches")))
    elif last == "curve" and table == "channels":
        yield from ((name, "curve", "") for name in declarations(values, "curves"))
        yield "straight", "word", "without a curve"
    elif last == "channel" and table in ("overrides", "intent"):
        yield from ((name, "channel", _channel_use(values, name)) for name in declarations(values, "channels"))
    elif last == "switch" and table == "channels":
        yield from ((name, "switch", "") for name in declarations(values, "switches"))
    elif last == "rule" and table == "waivers":
        yield from ((name, "rule", rule.title) for name, rule in context.rules.items())
    elif path == ("extends",):
        yield from ((each, "file", "a file with shared parts") for each in context.shared_files())
    elif table == "waivers" and path[2:3] == ("on",) and len(path) == 4:
        yield from _waivable_subjects(here, values, context)


def _waivable_subjects(here: Cursor, values: Values, context: CompletionContext) -> Iterator[tuple[str, str, str]]:
    """The subjects of a waived rule's findings that the waiver does not name yet."""
    rule = value_at(values, (*here.path[:2], "rule"))
    subjects = value_at(values, here.path[:3])
    taken = [each for each in subjects if each != here.typed] if isinstance(subjects, list) else []
    taken += here.siblings.values()
    found = [subject for name, subject in context.findings if name == rule and subject not in taken]
    yield from ((subject, "word", f"{rule} reports it") for subject in dict.fromkeys(found) if '"' not in subject)


def _channel_use(values: Values, channel: str) -> str:
    drives = value_at(values, ("channels", channel, "drives"))
    return f"drives {drives}" if isinstance(drives, str) else ""


def _control_names(values: Values, tables: Iterable[str] = CONTROL_TABLES) -> Iterator[tuple[str, str]]:
    """Names with their kinds, each name once."""
    seen: set[str] = set()
    for table in tables:
        for name in (*declarations(values, table), *(STICKS if table == "sticks" else ())):
            if name not in seen:
                seen.add(name)
                yield name, KIND_OF_TABLE[table]


def _formula_completions(before: list[Word], values: Values, path: Path) -> Iterator[Completion]:
    """What may follow the words before the one that is typed."""
    last = before[-1] if before else None
    is_claim = path[0] == "claims"
    if is_claim:
        yield from _rests_of_predicates(before)
    if last is not None and is_claim and last.role == "control" and last.text in declarations(values, "channels"):
        yield Completion("follows", "keyword", "another place of a stick or knob gives another output", "follows ")
        if last.text not in dict(_control_names(values)):
            return
    if last is None or last.text in ("and", "or", "(") or (last.text == "not" and not _is_after_is(before)):
        yield from _operand_completions(values, is_claim=is_claim)
    elif last.text == "is" or _is_after_is(before):
        yield from _state_completions(before, values)
    elif last.text == "follows":
        yield from (Completion(name, kind) for name, kind in _control_names(values, ("sticks", "knobs")))
    elif last.text == "output":
        names = declarations(values, "channels")
        yield from (Completion(each, "channel", _channel_use(values, each)) for each in names)
    elif last.role == "channel":
        yield from _comparison_signs()
    elif (last.role == "control" and last.text in declarations(values, "switches")) or last.text == "mode":
        yield Completion("is", "keyword", text="is ")
    elif last.role == "control" and last.text in declarations(values, "sensors"):
        yield from _comparison_signs()
        yield Completion("is lost", "keyword", "nothing is heard of it")
    elif last.role == "control" and last.text in (*declarations(values, "knobs"), *STICKS):
        yield from _comparison_signs()
    elif last.role != "operator":
        yield Completion("and", "keyword", text="and ")
        yield Completion("or", "keyword", text="or ")


def _rests_of_predicates(before: list[Word]) -> Iterator[Completion]:
    """What is left of the predicates that the last words begin."""
    for predicate in PREDICATES:
        parts = predicate.split()
        for count in range(1, len(parts)):
            begun = before[-count:]
            if [word.text for word in begun] == parts[:count] and begun[0].role == "control":
                about = MEANINGS[predicate].replace("`", "")
                yield Completion(" ".join(parts[count:]), "predicate", about, first=True)


def _operand_completions(values: Values, *, is_claim: bool) -> Iterator[Completion]:
    for name, kind in _control_names(values):
        yield Completion(name, kind, _control_summary(values, kind, name), first=True)
    yield Completion("mode is", "keyword", "the flight mode", "mode is ")
    yield Completion("not", "keyword", text="not ")
    if is_claim:
        yield Completion("output", "keyword", "a channel's output against a number", "output ")
        yield from (Completion(each, "predicate", MEANINGS[each].replace("`", "")) for each in PREDICATES)
        for channel in declarations(values, "channels"):
            yield Completion(f"{channel} follows", "channel", "moves with a stick or knob", f"{channel} follows ")


def _state_completions(before: list[Word], values: Values) -> Iterator[Completion]:
    """What a control or the mode may be, after `is` or `is not`."""
    subject = next((word.text for word in reversed(before) if word.text not in ("is", "not")), "")
    if subject == "mode":
        yield from (Completion(each, "mode") for each in declarations(values, "modes"))
    elif subject in declarations(values, "sensors"):
        yield Completion("lost", "keyword", "nothing is heard of it")
    else:
        yield from (Completion(each, "position", f"of {subject}") for each in switch_positions(values, subject))
    if before[-1].text == "is":
        yield Completion("not", "keyword", text="not ")


def _is_after_is(before: list[Word]) -> bool:
    return len(before) > 1 and before[-1].text == "not" and before[-2].text == "is"


def _comparison_signs() -> Iterator[Completion]:
    return (Completion(sign, "operator", text=f"{sign} ") for sign in ("<", "<=", ">", ">="))


def _control_summary(values: Values, kind: str, name: str) -> str:
    """What a control is, in a word or two."""
    if kind == "switch":
        return ", ".join(switch_positions(values, name))
    if kind == "sensor":
        return str(value_at(values, ("sensors", name, "reads")) or "")
    return ""
