"""The fingerprint of a set-up: eight hexadecimal digits of what it means."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from hashlib import sha256
from typing import Any

from setuplint.setup.model import Setup

REPORTED = ("claims", "waivers", "broken", "declared")  # of a model: what it is judged by, and how it was read
NAMED = ("Craft", "name")  # what the craft is called does nothing


def fingerprint(setup: Setup) -> str:
    """Comments, layout, the order of tables (but of modes), how numbers are written, and shared files do not change it."""
    return sha256(_canonical(replace(setup, brought=frozenset())).encode()).hexdigest()[:8]


def _canonical(value: Any, ordered: bool = False) -> str:
    """A value in a text that is the same for the same meaning. The names of the model's classes and fields are in it."""
    if is_dataclass(value) and not isinstance(value, type):
        name = type(value).__name__
        keys = [field.name for field in fields(value)]
        kept = [key for key in keys if not (name == "Setup" and key in REPORTED) and (name, key) != NAMED]
        inner = ",".join(f"{key}={_canonical(getattr(value, key), ordered=key == 'modes')}" for key in kept)
        return f"{name}({inner})"
    if isinstance(value, Mapping):
        items = [f"{key}:{_canonical(each)}" for key, each in value.items()]
        return "{" + ",".join(items if ordered else sorted(items)) + "}"
    if isinstance(value, tuple | list):
        return "[" + ",".join(map(_canonical, value)) + "]"
    return str(value)
