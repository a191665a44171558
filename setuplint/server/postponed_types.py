"""LSP's types, each completed when it is used first: lsprotocol has 554 of them, of which a session needs some 100. To complete
them all was near half of the start.

While `lsprotocol.types` is imported, `attrs.define` leaves each class as it is written, with two things that complete it: its
`__init__`, and `__attrs_attrs__`, by which attrs and cattrs know a class of theirs. From then on it is what `attrs.define` makes,
without slots, as these would take another class.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from importlib import import_module
from typing import Any

import attrs

FIELDS = "__attrs_attrs__"
LAST = (FIELDS, "__init__")
NOT_TAKEN = ("__dict__", "__weakref__", "__attrs_types_resolved__")
_lock = threading.RLock()
_postponed: dict[type, dict[str, Any]] = {}  # what `attrs.define` was called with
_define: Callable[..., Any] = attrs.define


def import_types() -> None:
    """Import them, unless somebody has already."""
    if "lsprotocol.types" in sys.modules:
        return
    attrs.define = _postpone  # type: ignore[assignment]
    try:
        import_module("lsprotocol.types")
    finally:
        attrs.define = _define
    from lsprotocol import _hooks

    _hooks._resolved_forward_references = True  # each is, when it is completed


def _postpone(cls: type | None = None, **given: Any) -> Any:
    if cls is None:
        return lambda cls: _postpone(cls, **given)
    if FIELDS in cls.__dict__ or "__init__" in cls.__dict__:
        return _define(cls, **given)
    _postponed[cls] = given
    cls.__init__ = _complete_and_init  # type: ignore[misc]
    setattr(cls, FIELDS, _Fields())
    return cls


def _complete_and_init(self: Any, *args: Any, **given: Any) -> None:
    _complete(type(self))
    self.__init__(*args, **given)


class _Fields:
    """What a class has in place of its fields until somebody asks for them."""

    def __get__(self, instance: Any, owner: type) -> Any:
        _complete(owner)
        return owner.__dict__[FIELDS]


def _complete(cls: type) -> None:
    """Another class is made of it, from which it takes what makes it whole; its `__init__` last, so that no thread finds it half
    done."""
    from lsprotocol.types import ALL_TYPES_MAP

    with _lock:
        given = _postponed.get(cls)
        if given is None:
            return  # by another thread
        written = {name: value for name, value in cls.__dict__.items() if name not in (*NOT_TAKEN, *LAST)}
        whole = _define(type(cls.__name__, cls.__bases__, written), **{**given, "slots": False})
        attrs.resolve_types(whole, ALL_TYPES_MAP, {})
        for name, value in whole.__dict__.items():
            if name not in (*NOT_TAKEN, *LAST) and written.get(name, FIELDS) is not value:
                setattr(cls, name, value)
        for name in written.keys() - whole.__dict__.keys():  # what was written of a field
            delattr(cls, name)
        for name in LAST:
            setattr(cls, name, whole.__dict__[name])
        del _postponed[cls]
