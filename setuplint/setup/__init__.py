"""The set-up that a file describes: names resolved, numbers exact, every mistake at its place."""

from setuplint.setup.build import Built, build
from setuplint.setup.formulas import FormulaError
from setuplint.setup.model import Setup
from setuplint.setup.names import resolve_claim
from setuplint.setup.problems import Problem
from setuplint.setup.texts import Texts
from setuplint.source import read

__all__ = ["Built", "FormulaError", "Problem", "Setup", "Texts", "build", "load", "resolve_claim"]


def load(data: bytes | str, name: str) -> tuple[Texts, Setup, tuple[Problem, ...]]:
    """Read a file's text. Mistakes in TOML are `Document.problems`, those of the set-up are the last of the three."""
    texts = Texts(read(data, name))
    setup, problems = build(texts)
    return texts, setup, problems
