"""The set-up that a file describes: names resolved, numbers exact, every mistake at its place."""

from setuplint.setup.assembly import Built, build
from setuplint.setup.file_sources import Beside
from setuplint.setup.formulas import FormulaError
from setuplint.setup.model import Setup
from setuplint.setup.names import resolve_claim
from setuplint.setup.problems import Problem
from setuplint.setup.texts import Texts
from setuplint.source import parsed_document

__all__ = ["Built", "FormulaError", "Problem", "Setup", "Texts", "build", "load", "resolve_claim"]


def load(data: bytes | str, name: str, beside: Beside | None = None) -> tuple[Texts, Setup, tuple[Problem, ...]]:
    """Read a file's text, and from `beside` the shared parts that it extends. Mistakes in TOML are `Document.problems`,
    those of the set-up are the last of the three. A file that others extend, and that has nothing but what can be shared,
    is no set-up: `Texts.part`."""
    document = parsed_document(data, name)
    texts = Texts(document)
    if "extends" in document.values or not ("channels" in document.values or "craft" in document.values):
        from setuplint.setup import shared_files  # most set-ups stand alone

        texts = shared_files.extended(document, beside)
        if beside is not None and shared_files.is_part(document) and beside.is_extended():
            texts = shared_files.alone(texts)
    setup, problems = build(texts)
    return texts, setup, problems
