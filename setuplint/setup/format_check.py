"""Is the file what the models of `shape` describe? What pydantic-core finds, in words for a pilot."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import cache

from setuplint.hints import TYPE_CHECKING, Any
from setuplint.named_tuple import NamedTuple
from setuplint.setup.conforms import WORDS, conforms, recorded
from setuplint.setup.conforms import SchemaNode as Node
from setuplint.setup.model import Path
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted, quoted, step_into, word_list

if TYPE_CHECKING:
    import pydantic_core


@cache
def core_schema() -> Node:
    """The check as data: as recorded, or from the models where another pydantic-core is installed than recorded."""
    from pydantic_core import __version__

    if recorded()["pydantic-core"] == __version__:
        schema: Node = _completed(recorded()["schema"])
        return schema
    from setuplint.setup.schema import core_schema_data

    schema = _completed(core_schema_data())
    return schema


def _completed(node: Any) -> Any:
    """With the choices that are kept elsewhere; and pairs of a choice and its label are tuples, which JSON does not have."""
    if isinstance(node, dict):
        made = {key: _completed(value) for key, value in node.items()}
        if "choices" in made:
            made["choices"] = [tuple(choice) for choice in made["choices"]]
        if "words" in made.get("metadata", ()):
            made["schema"]["expected"] = WORDS[made["metadata"]["words"]]()
        return made
    return [_completed(item) for item in node] if isinstance(node, list) else node


@cache
def validator() -> pydantic_core.SchemaValidator:
    from pydantic_core import SchemaValidator

    return SchemaValidator(core_schema())


class ErrorPlace(NamedTuple):
    """Where an error is: in the file, in the schema, and the key around it with the schema of its field."""

    path: Path
    node: Node
    value: Any
    field: str
    notes: Mapping[str, str]  # of the field: example, what, unit; else: what it may be of another kind


def note_format_errors(notes: Notes, values: Mapping[str, Any]) -> None:
    """Note everything in the file that is not of the format."""
    kept = notes.texts.own.kept
    if conforms(values, None if kept is None else kept.by_values):
        return
    from pydantic_core import ValidationError

    try:
        validator().validate_python(values)
    except ValidationError as error:
        found = error.errors(include_url=False, include_input=False)
    else:
        return
    told: set[Path] = set()
    found.sort(key=lambda each: each["type"] == "missing")  # last: a key may be there under a name that is misspelt
    for each in found:
        place = _error_place(each["loc"], values)
        if place.node["type"] == "union" and each["type"] != "missing":
            if place.path not in told:
                _wrong_type(notes, place)
            told.add(place.path)
        elif place.node["type"] != "other choice":
            _note_error(notes, place, each["type"], each["loc"][-1] if each["loc"] else "")


def _kind_of_value(value: Any) -> str:
    if isinstance(value, bool):
        return "flag"
    if isinstance(value, int | Decimal | float):
        return "number"
    return "text" if isinstance(value, str) else "table" if isinstance(value, dict) else "other"


OTHER_CHOICE: Node = {"type": "other choice"}


def _error_place(loc: tuple[str | int, ...], values: Any) -> ErrorPlace:
    node, value, path = core_schema(), values, ()  # type: Node, Any, Path
    field, notes = "", {}  # type: str, Mapping[str, str]
    for step in loc:
        kind = node["type"]
        if kind == "union":
            labels = [label for _, label in node["choices"]]
            actual = _kind_of_value(value)
            if actual not in labels:
                break
            if step != actual:
                return ErrorPlace(path, OTHER_CHOICE, value, field, notes)
            others = [choice for choice, label in node["choices"] if label != actual]
            notes = {**notes, "else": " or ".join(expected_words(choice) for choice in others)}
            node = node["choices"][labels.index(actual)][0]
            continue
        if step == "[key]":
            break
        path = (*path, step)
        value = step_into(value, step)
        if kind == "typed-dict":
            if step not in node["fields"]:
                break
            found = node["fields"][step]
            field, notes, node = str(step), found.get("metadata", {}), found["schema"]
        elif kind == "dict":
            node = node["values_schema"]
        elif kind == "list":
            node = node["items_schema"]
        else:
            node = node["items_schema"][step]
        if kind != "typed-dict":  # what is said of a list is not said of its items
            notes = {key: text for key, text in notes.items() if key == "example"}
        notes = {**notes, **node.get("metadata", {})}
    return ErrorPlace(path, node, value, field, notes)


def _note_error(notes: Notes, place: ErrorPlace, error: str, last: str | int) -> None:
    path, node, value = place.path, place.node, place.value
    if last == "[key]":
        note_bad_name(notes, path)
    elif error == "extra_forbidden":
        if path not in notes.texts.holder(path).broken:
            note_unknown_key(notes, path, list(node["fields"]))
    elif error == "missing" and isinstance(path[-1] if path else "", int):
        _wrong_pair(notes, path[:-1])
    elif error == "missing":
        if path not in notes.lost and not notes.absent_is_unknown(path):
            _missing(notes, place)
    elif path[0] == "curves" and error in ("too_short", "less_than_equal", "greater_than_equal") and path[-1] != 1:
        return  # curve-unordered: found with the order of the points
    elif error in ("less_than_equal", "greater_than_equal"):
        _out_of_range(notes, place)
    elif error == "finite_number":
        hint = f"write a number, for example {_example(place)}"
        notes.add(
            "not-a-setup", path, f"{dotted(path)} is {notes.value_text(path, value)}, which is not an amount", hint
        )
    elif error == "literal_error" and isinstance(value, str):
        _no_such_word(notes, place)
    elif error == "too_long" and node["type"] == "tuple":
        _wrong_pair(notes, path)
    elif error in ("too_short", "too_long"):
        if error == "too_long" or not notes.absent_is_unknown(path):
            _wrong_length(notes, place)
    elif error in ("string_too_short", "string_too_long"):
        size = "is empty" if not value else f"has {len(value)} characters, more than {node['max_length']}"
        notes.add("not-a-setup", path, f"{dotted(path)} {size}", f"write a text, for example {_example(place)}")
    elif error == "string_pattern_mismatch":
        note_bad_name(notes, path, value)
    else:
        _wrong_type(notes, place)


def _example(place: ErrorPlace) -> str:
    """How the key is written; tables and top-level keys bring their own heading."""
    example = place.notes.get("example", "")
    return example if example.startswith("[") and len(place.path) <= 2 else f"{place.field} = {example}"


def _wrong_type(notes: Notes, place: ErrorPlace) -> None:
    from setuplint.setup.meant import value_meant

    path, value = place.path, place.value
    value_as_read = None if isinstance(value, str) else str(value)
    is_number_in_quotes = _kind_of_value(value) == "text" and _numeric(value) and "number" in expected_words(place.node)
    if is_number_in_quotes:
        help = "write the number without quotes"
    elif (meant := value_meant(str(value), place.node, place.notes.get("unit", ""))) and meant != value_as_read:
        help = f"did you mean {meant}?"
    elif place.node["type"] == "literal":
        help = "put the one that is meant there, in quotes"
    elif place.node["type"] == "typed-dict" and path[-1] in place.node["fields"]:
        help = f"give it a name: write [{dotted(path[:-1])}.NAME] above its keys"
    elif place.node["type"] == "typed-dict":
        help = f"write [{dotted(path)}] with its keys below it" if "[" not in dotted(path) else "write { ... }"
    else:
        help = f"write for example {_example(place)}"
    expected = expected_words(place.node, place.notes)
    belongs = "belong" if expected.startswith("tables") else "belongs"
    notes.add(
        "not-a-setup", path, f"{dotted(path)} is {notes.value_text(path, value)}, where {expected} {belongs}", help
    )


def _numeric(text: str) -> bool:
    return text.strip().lstrip("+-").replace(".", "", 1).isdecimal()


def expected_words(node: Node, notes: Mapping[str, str] | None = None) -> str:
    """What a part of the schema takes, in words."""
    about = {**(notes or {}), **node.get("metadata", {})}
    kind = node["type"]
    if kind == "union":
        return " or ".join(expected_words(choice) for choice, _ in node["choices"])
    if kind in ("float", "int"):
        unit = f" ({about['unit']})" if "unit" in about else ""
        whole = "whole " if kind == "int" else ""
        return f"a {whole}number from {number_text(node['ge'])} to {number_text(node['le'])}{unit}"
    if kind == "literal":
        return (
            f"one of {word_list(map(str, node['expected']))}" if len(node["expected"]) > 1 else str(node["expected"][0])
        )
    if kind == "typed-dict":
        return "a table"
    plain = {"str": "a text in quotes", "bool": "true or false", "date": "a date", "list": "a list", "dict": "a table"}
    return about.get("what") or plain.get(kind, "something else")


def number_text(value: float) -> str:
    return f"{value:g}" if abs(value) < 100_000 else f"{value:,.0f}"


def _out_of_range(notes: Notes, place: ErrorPlace) -> None:
    path, node = place.path, place.node
    rule = "value-out-of-range" if node["type"] == "float" and node["le"] == 150 else "not-a-setup"
    unit = f" ({place.notes['unit']})" if "unit" in place.notes else ""
    limits = f"{number_text(node['ge'])} to {number_text(node['le'])}"
    message = f"{dotted(path)} is {notes.value_text(path, place.value)}, outside {limits}{unit}"
    is_pulse = rule == "value-out-of-range" and 750 <= place.value <= 2250
    help = f"give a number from {limits}" + (", in percent of travel and not the pulse in µs" if is_pulse else "")
    notes.add(rule, path, message, help)


def _no_such_word(notes: Notes, place: ErrorPlace) -> None:
    words = [str(word) for word in place.node["expected"]]
    near = notes.nearest.match(place.value, words) if len(place.value) > 2 else None  # none is not what “on” means
    message = f"{dotted(place.path)} is {notes.value_text(place.path, place.value)}, which it cannot be"
    choices = f"{place.notes['else']}, or {word_list(words)}" if "else" in place.notes else word_list(words)
    help = f"did you mean “{near}”? It is {choices}" if near else f"it is {choices}"
    notes.add("not-a-setup", place.path, message, help)


def _missing(notes: Notes, place: ErrorPlace) -> None:
    path, key = place.path[:-1], place.field
    subject = dotted(place.path)
    if not path:
        own = notes.texts.own
        if any(not lost or (len(lost) == 1 and lost[0] not in own.values) for lost in own.broken):
            return  # it may stand in a line that could not be read
        notes.add(
            "not-a-setup", (), "the file does not say which version of the format it is in", "begin it with format = 1",
            subject=subject, lose=False,
        )  # fmt: skip
        return
    message = f"{dotted(path)} has no {key}"
    # Which of several words is not ours to propose: a hold that springs back is a hazard.
    words = place.node.get("expected", ())
    values = word_list(f'"{word}"' for word in words) if len(words) > 1 else place.notes["example"]
    notes.add("not-a-setup", path, message, f"add {key} = {values}", subject=subject, lose=False)
    notes.lose(place.path)


def _wrong_length(notes: Notes, place: ErrorPlace) -> None:
    path, node = place.path, place.node
    low, high = node.get("min_length", 0), node["max_length"]
    wanted = f"{high}" if low == high else f"at most {high}" if not low else f"{low} to {high}"
    items = "1 item" if len(place.value) == 1 else f"{len(place.value)} items"
    message = f"{dotted(path)} has {items}, where {wanted} belong"
    notes.add("not-a-setup", path, message, f"write for example {_example(place)}")


def _wrong_pair(notes: Notes, path: Path) -> None:
    notes.add("not-a-setup", path, f"{dotted(path)} is not a pair [input, output]", "write for example [0, 16]")


def note_unknown_key(notes: Notes, path: Path, known: list[str]) -> None:
    """A key that the format does not have; where it looks like one that is absent, that one is not known."""
    key, table = str(path[-1]), path[:-1]
    given = notes.value_at(table)
    near = notes.nearest.match(key, [k for k in known if k not in given]) or notes.nearest.match(key, known)
    what = f"a key of [{dotted(table)}]" if table else "a part of a set-up"
    if near:
        help = f"did you mean {near}?"
    else:
        help = f"its keys are {word_list(known, 'and')}" if table else f"the parts are {', '.join(known)}"
    notes.add("not-a-setup", path, f"{quoted(key)} is not {what}", help, key=True)
    if near and near not in given:
        notes.lose((*table, near))
    elif table and near and isinstance(given[near], dict) and isinstance(given[key], dict):  # as of two lines `in.MODE`
        for step in given[key].keys() - given[near].keys():
            notes.lose((*table, near, step))


def note_bad_name(notes: Notes, path: Path, item: str | None = None) -> None:
    """A key (or, with `item`, a word in a list) that is not a name."""
    name = str(path[-1]) if item is None else item
    words = "".join(c if c.isascii() and c.isalnum() else " " for c in name.lower()).split()
    better = "-".join(words)
    help = f"did you mean {better}?" if better[:1].isalpha() else "write a word such as hold or idle-up"
    message = f"{quoted(name)} is not a name: names are lower-case letters and digits, words joined by “-”"
    subject = "" if item is not None else f"{dotted(path[:-1])}: {name}"
    notes.add("not-a-setup", path, message, help, subject=subject, key=item is None)
    if item is None and len(path) == 2 and better[:1].isalpha() and better not in notes.value_at(path[:1]):
        known_as = (path[0], better)
        if known_as not in notes.misnamed:  # of two that mean the same one is it
            notes.misnamed[path] = notes.misnamed[known_as] = better
