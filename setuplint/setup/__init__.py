"""The set-up that a file describes: names resolved, numbers exact, every mistake at its place."""

from __future__ import annotations

from setuplint.hints import TYPE_CHECKING
from setuplint.setup.assembly import Built, built_setup
from setuplint.setup.file_sources import FileSource
from setuplint.setup.formulas import FormulaError
from setuplint.setup.model import Setup
from setuplint.setup.names import claim_formula
from setuplint.setup.problems import SetupProblem
from setuplint.setup.texts import Texts
from setuplint.source import parsed_document

if TYPE_CHECKING:
    from setuplint.source.kept_tables import KeptTables

__all__ = [
    "Built",
    "FormulaError",
    "Setup",
    "SetupProblem",
    "Texts",
    "built_setup",
    "claim_formula",
    "loaded_setup",
    "loaded_texts",
]


def loaded_setup(
    data: bytes | str, name: str, beside: FileSource | None = None, kept: KeptTables | None = None
) -> tuple[Texts, Setup, tuple[SetupProblem, ...]]:
    """Read a file's text, and from `beside` the shared parts that it extends. Mistakes in TOML are `Document.problems`,
    those of the set-up are the last of the three. `kept`: as for `loaded_texts`."""
    texts = loaded_texts(data, name, beside, kept)
    setup, problems = built_setup(texts)
    return texts, setup, problems


def loaded_texts(
    data: bytes | str, name: str, beside: FileSource | None = None, kept: KeptTables | None = None
) -> Texts:
    """The same, without what the texts mean. A file that others extend, and that has nothing but what can be shared, is no
    set-up: `Texts.is_shared_file`. `kept`: where later versions of the text, or others like it, are to be read."""
    document = parsed_document(data, name, kept)
    texts = Texts(document)
    if "extends" in document.values or not ("channels" in document.values or "craft" in document.values):
        from setuplint.setup import shared_files  # most set-ups stand alone

        texts = shared_files.texts_with_shared_files(document, beside)
        if beside is not None and shared_files.is_shared_file(document) and beside.is_extended():
            texts = shared_files.texts_of_shared_file(texts)
    return texts
