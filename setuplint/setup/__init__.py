"""The set-up that a file describes: names resolved, numbers exact, every mistake at its place."""

from setuplint.setup.build import Built, build
from setuplint.setup.formulas import FormulaError
from setuplint.setup.model import Setup
from setuplint.setup.names import resolve_claim
from setuplint.setup.problems import Problem
from setuplint.source import Document, read

__all__ = ["Built", "FormulaError", "Problem", "Setup", "build", "load", "resolve_claim"]


def load(data: bytes | str, name: str) -> tuple[Document, Setup, tuple[Problem, ...]]:
    """Read a file's text. Mistakes in TOML are `Document.problems`, those of the set-up are the last of the three."""
    document = read(data, name)
    setup, problems = build(document)
    return document, setup, problems
