"""An example of a rule's file as the text of a setup."""

from __future__ import annotations

from pathlib import Path

from setuplint.club.examples import beside_of, edited, put_value, text_of

REFERENCE = Path(__file__).parents[2] / "examples" / "reference.toml"
example_text, beside_text = text_of, beside_of

__all__ = ["REFERENCE", "beside_text", "edited", "example_text", "put_value"]
