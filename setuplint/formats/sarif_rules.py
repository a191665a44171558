"""The rules as SARIF has them: reportingDescriptors (3.49), with each rule's page as its help."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

from setuplint.book import rulebook
from setuplint.book.rule_file import Page, Rule
from setuplint.formats.numbers import json_number
from setuplint.formats.rule_page import rule_markdown, rule_text
from setuplint.formats.sarif_places import Object, message_words
from setuplint.formats.terminal import Look, plain

LEVELS = {"danger": "error", "caution": "warning", "notice": "note"}
HELP = Look(width=100)


@cache
def rule_index() -> dict[str, int]:
    """The place of each rule of the book in the list. A club's rules come after them, and are found by their names."""
    return {name: number for number, name in enumerate(rulebook.rules())}


def descriptors(clubs: Iterable[Rule] = ()) -> Iterator[Object]:
    """Every rule of the book, in the order of their names, then a club's own."""
    for name in rulebook.rules():
        yield descriptor(rulebook.page(name))
    for rule in sorted(clubs, key=lambda rule: rule.name):
        yield descriptor(Page(rule, (), ()))


def descriptor(page: Page) -> Object:
    rule = page.rule
    made: Object = {
        "id": rule.name,
        "name": "".join(word.capitalize() for word in rule.name.split("-")),
        "shortDescription": {"text": _one_line(rule.title)},
        "fullDescription": {"text": _one_line(rule.why)},
        "help": {
            "text": message_words(rule_text(page, HELP)),
            "markdown": rule_markdown(page).replace("{", "{{").replace("}", "}}"),
        },
        "defaultConfiguration": {"level": LEVELS[rule.signal]},
    }
    properties: Object = {"signal": rule.signal, "tags": ["safety", rule.signal, "claim" if rule.is_claim else "check"]}
    if rule.limits:
        properties["limits"] = {
            name: {"value": json_number(limit.value), "unit": plain(limit.unit), "basis": limit.basis}
            for name, limit in rule.limits.items()
        }
    return made | {"properties": properties}


def _one_line(text: str) -> str:
    return message_words(" ".join(text.split()))
