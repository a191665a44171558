"""The recipes of docs/cookbook.md, as they are read there: what is pasted, onto what, and what breaks it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).parent.parent


class Recipe(NamedTuple):
    """A wiring: its TOML, the example it is pasted onto, the tables that go, the changes that break it,
    each with the rule that speaks then."""

    title: str
    toml: str
    base: Path
    without: tuple[str, ...]
    breaks: tuple[tuple[dict[str, Any], str], ...]

    @property
    def pasted(self) -> str:
        """The example with the recipe: tables of the same heading and those to take out are gone."""
        gone = {*_sections(self.toml), *self.without} - {""}
        kept = [
            text for heading, text in _sections(self.base.read_text(encoding="utf-8")).items() if heading not in gone
        ]
        return "".join(kept) + self.toml


def recipes() -> list[Recipe]:
    page = (ROOT / "docs" / "cookbook.md").read_text(encoding="utf-8")
    return [_recipe(*part.split("\n", 1)) for part in page.split("\n## ")[1:]]


def _recipe(title: str, text: str) -> Recipe:
    blocks = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    base = re.search(r"^Onto \[[^\]]+\]\(\.\./([^)]+)\)", text, re.MULTILINE)
    out = re.search(r"^Take out (.*)\.$", text, re.MULTILINE)
    broken = re.findall(
        r"^Break it: `(\S+) = (.+?)`, and \[([a-z-]+)\]\(\.\./rules/README\.md#\3\) speaks\.$", text, re.MULTILINE
    )
    return Recipe(
        title,
        "".join(blocks),
        ROOT / (base[1] if base else "examples/reference.toml"),
        tuple(re.findall(r"`\[([a-z.-]+)\]`", out[1])) if out else (),
        tuple((tomllib.loads(f"'{path}' = {value}"), rule) for path, value, rule in broken),
    )


def _sections(toml: str) -> dict[str, str]:
    """The text of every table by its heading, in order."""
    parts = re.split(r"^(?=\[)", toml, flags=re.MULTILINE)
    return {part.split("]")[0].strip("[") if part.startswith("[") else "": part for part in parts}
