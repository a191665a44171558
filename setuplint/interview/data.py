"""The interview's data, read and its terms taken apart."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from setuplint.dataclass import dataclass
from setuplint.interview.terms import Tree, term, text_term

NUMBER = r"([-+]?(?:[0-9]{1,7}(?:\.[0-9]{1,6})?|\.[0-9]{1,6}))"
YES_NO = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True)
class Question:
    """One question. `each` gives what it is asked of, one by one, `when` when it is asked, `default` what an empty reply is;
    `refuse` are terms with words for why an answer that holds one of them does not go with those before it."""

    key: str
    ask: Tree
    label: str
    reader: str = ""
    section: str = ""
    help: str = ""
    only: str = ""  # what it is for, where it is not asked of every craft
    habit: str = ""  # the purpose of a switch: the other craft of the radio may have one for it
    choices: tuple[str, ...] = ()
    yes_no: bool = False
    none: bool = False
    needed: bool = False
    sticks: bool = False
    each: Tree | None = None
    when: Tree | None = None
    default: Tree | None = None
    refuse: tuple[tuple[Tree, Tree], ...] = ()


@dataclass(frozen=True, slots=True)
class FilePiece:
    """A piece of the file: its lines, for each of something where it says so."""

    lines: tuple[Tree, ...]
    each: Tree | None = None
    when: Tree | None = None


@dataclass(frozen=True, slots=True)
class Interview:
    """All of it."""

    words: dict[str, Any]  # "unknown", "none", "tidy"
    complaints: dict[str, Tree]
    readers: dict[str, dict[str, Any]]
    questions: tuple[Question, ...]
    values: dict[str, Tree]
    functions: dict[str, tuple[list[str], Tree]]
    pieces: tuple[FilePiece, ...]
    open: dict[str, str]  # what readings of a transmitter cannot tell


@cache
def interview() -> Interview:
    """As the package has it."""
    here = Path(__file__).parent
    names = ("interview", "pieces", "readings")
    asked, made, read = (tomllib.loads((here / f"{name}.toml").read_text(encoding="utf-8")) for name in names)
    values, functions = {**made["values"], **read["values"]}, {**made["functions"], **read["functions"]}
    return Interview(
        {word: asked[word] for word in ("unknown", "none", "tidy")},
        {name: text_term(text) for name, text in asked["complaints"].items()},
        {name: _reader(table) for name, table in asked["readers"].items()},
        tuple(map(_question, asked["questions"])),
        {name: term(text) for name, text in values.items()},
        {name: (table["takes"], term(table["is"])) for name, table in functions.items()},
        tuple(map(_piece, made["pieces"])),
        read["open"],
    )


def _reader(table: dict[str, Any]) -> dict[str, Any]:
    forms = [[pattern.replace("N", NUMBER), term(made)] for pattern, made in table.get("forms", ())]
    limits: dict[str, Any] = {name: str(table[name]) for name in ("low", "high") if name in table}
    return {**table, **limits, "forms": forms, "shown": term(table["shown"])}


def _question(table: dict[str, Any]) -> Question:
    parts = {name.replace("-", "_"): value for name, value in table.items()}
    parts |= {name: term(parts[name]) for name in ("each", "when", "default") if name in parts}
    refuse = tuple((term(test), text_term(words)) for test, words in parts.pop("refuse", ()))
    choices = tuple(parts.pop("choices", ()))
    return Question(**{**parts, "ask": text_term(parts["ask"])}, choices=choices, refuse=refuse)


def _piece(table: dict[str, Any]) -> FilePiece:
    parts = {name: term(table[name]) for name in ("each", "when") if name in table}
    return FilePiece(tuple(text_term(line) for line in table["text"].strip("\n").split("\n")), **parts)
