"""Text to values: a TOML 1.0 reader that keeps the place of everything and goes on past errors."""

from setuplint.source.document import Document, Path, Problem, Span
from setuplint.source.reader import parsed_document

__all__ = ["Document", "Path", "Problem", "Span", "parsed_document"]
