"""What of a file is other than its shape, in words for a pilot."""

from __future__ import annotations

from collections.abc import Mapping

from setuplint.hints import Any
from setuplint.setup.model import Path
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted, quoted, word_list
from setuplint.setup.shape import Fault, Node, faults, kind_of_value


def note_format_errors(notes: Notes, values: Mapping[str, Any]) -> None:
    """Note everything in the file that is not of the format."""
    kept = notes.texts.own.kept
    found = faults(values, None if kept is None else kept.by_values)
    found.sort(key=lambda each: each.error == "missing")  # last: a key may be there under a name that is misspelt
    for each in found:
        _note_fault(notes, each)


def _note_fault(notes: Notes, fault: Fault) -> None:
    error, path, node, value = fault[:4]
    if error == "name":
        note_bad_name(notes, path)
    elif error == "unknown":
        if path not in notes.texts.holder(path).broken:
            note_unknown_key(notes, path, list(node["keys"]))
    elif error == "missing" and isinstance(path[-1], int):
        _wrong_pair(notes, path[:-1])
    elif error == "missing":
        if path not in notes.lost and not notes.absent_is_unknown(path):
            _missing(notes, fault)
    elif path[:1] == ("curves",) and error in ("short", "range") and path[-1] != 1:
        return  # curve-unordered: found with the order of the points
    elif error == "range":
        _out_of_range(notes, fault)
    elif error == "amount":
        hint = f"write a number, for example {_example(fault)}"
        notes.add(
            "not-a-setup", path, f"{dotted(path)} is {notes.value_text(path, value)}, which is not an amount", hint
        )
    elif error == "choice":
        _no_such_word(notes, fault)
    elif error == "long" and node["type"] == "pair":
        _wrong_pair(notes, path)
    elif error in ("short", "long"):
        if error == "long" or not notes.absent_is_unknown(path):
            _wrong_length(notes, fault)
    elif error == "length":
        size = "is empty" if not value else f"has {len(value)} characters, more than {node['max']}"
        notes.add("not-a-setup", path, f"{dotted(path)} {size}", f"write a text, for example {_example(fault)}")
    elif error == "word":
        note_bad_name(notes, path, value)
    else:
        _wrong_type(notes, fault)


def _example(fault: Fault) -> str:
    """How the key is written; tables and top-level keys bring their own heading."""
    example = fault.notes.get("example", "")
    return example if example.startswith("[") and len(fault.path) <= 2 else f"{fault.field} = {example}"


def _wrong_type(notes: Notes, fault: Fault) -> None:
    from setuplint.setup.meant import value_meant

    path, value = fault.path, fault.value
    value_as_read = None if isinstance(value, str) else str(value)
    is_number_in_quotes = kind_of_value(value) == "text" and _numeric(value) and "number" in expected_words(fault.node)
    if is_number_in_quotes:
        help = "write the number without quotes"
    elif (meant := value_meant(str(value), fault.node, fault.notes.get("unit", ""))) and meant != value_as_read:
        help = f"did you mean {meant}?"
    elif fault.node["type"] == "choice":
        help = "put the one that is meant there, in quotes"
    elif fault.node["type"] == "table" and path[-1] in fault.node["keys"]:
        help = f"give it a name: write [{dotted(path[:-1])}.NAME] above its keys"
    elif fault.node["type"] == "table":
        help = f"write [{dotted(path)}] with its keys below it" if "[" not in dotted(path) else "write { ... }"
    else:
        help = f"write for example {_example(fault)}"
    expected = expected_words(fault.node)
    belongs = "belong" if expected.startswith("tables") else "belongs"
    notes.add(
        "not-a-setup", path, f"{dotted(path)} is {notes.value_text(path, value)}, where {expected} {belongs}", help
    )


def _numeric(text: str) -> bool:
    return text.strip().lstrip("+-").replace(".", "", 1).isdecimal()


def expected_words(node: Node) -> str:
    """What a row takes, in words."""
    kind = node["type"]
    if kind == "either":
        return " or ".join(map(expected_words, node["choices"]))
    if kind in ("number", "whole"):
        unit = f" ({node['unit']})" if "unit" in node else ""
        return f"a {'whole ' if kind == 'whole' else ''}number from {range_text(node)}{unit}"
    if kind == "choice":
        return f"one of {word_list(node['choices'])}" if len(node["choices"]) > 1 else node["choices"][0]
    if kind == "name":
        return f"the name of a {node['of']}, in quotes"
    return node.get("what") or EXPECTED[kind]


EXPECTED = {
    "text": "a text in quotes", "word": "a word", "formula": "a formula, in quotes", "flag": "true or false", "date": "a date",
    "table": "a table", "tables": "tables, each with a name",
}  # fmt: skip


def range_text(node: Node) -> str:
    return " to ".join(f"{value:g}" if abs(value) < 100_000 else f"{value:,.0f}" for value in node["range"])


def _out_of_range(notes: Notes, fault: Fault) -> None:
    path, node = fault.path, fault.node
    rule = "value-out-of-range" if node["type"] == "number" and node["range"][1] == 150 else "not-a-setup"
    unit = f" ({fault.notes['unit']})" if "unit" in fault.notes else ""
    limits = range_text(node)
    message = f"{dotted(path)} is {notes.value_text(path, fault.value)}, outside {limits}{unit}"
    is_pulse = rule == "value-out-of-range" and 750 <= fault.value <= 2250
    help = f"give a number from {limits}" + (", in percent of travel and not the pulse in µs" if is_pulse else "")
    notes.add(rule, path, message, help)


def _no_such_word(notes: Notes, fault: Fault) -> None:
    words = fault.node["choices"]
    near = notes.nearest.match(fault.value, words) if len(fault.value) > 2 else None  # none is not what “on” means
    message = f"{dotted(fault.path)} is {notes.value_text(fault.path, fault.value)}, which it cannot be"
    others = map(expected_words, fault.notes.get("others", ()))
    choices = ", or ".join(filter(None, (" or ".join(others), word_list(words))))
    help = f"did you mean “{near}”? It is {choices}" if near else f"it is {choices}"
    notes.add("not-a-setup", fault.path, message, help)


def _missing(notes: Notes, fault: Fault) -> None:
    path, key = fault.path[:-1], fault.field
    subject = dotted(fault.path)
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
    words = fault.node["choices"] if fault.node["type"] == "choice" else ()
    values = word_list(f'"{word}"' for word in words) if len(words) > 1 else fault.notes["example"]
    notes.add("not-a-setup", path, message, f"add {key} = {values}", subject=subject, lose=False)
    notes.lose(fault.path)


def _wrong_length(notes: Notes, fault: Fault) -> None:
    path, node = fault.path, fault.node
    low, high = node.get("min", 0), node["max"]
    wanted = f"{high}" if low == high else f"at most {high}" if not low else f"{low} to {high}"
    items = "1 item" if len(fault.value) == 1 else f"{len(fault.value)} items"
    message = f"{dotted(path)} has {items}, where {wanted} belong"
    notes.add("not-a-setup", path, message, f"write for example {_example(fault)}")


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
    elif near and isinstance(given[near], list) and isinstance(given[key], list):  # more of them
        notes.lose((*table, near))


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
