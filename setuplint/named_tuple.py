"""`NamedTuple` as `typing` has it, but for when it works: `__new__` is compiled when a class is first used.

Python's compiles every annotation, and a function for each class, as that is imported: a twelfth of all work of a lint
(docs/scale.md). To a type checker it is Python's own.
"""

from __future__ import annotations

from setuplint.hints import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from typing import NamedTuple as NamedTuple
else:
    from collections import _tuplegetter as _getter  # what Python's own are made of

    class _Maker(type):
        def __new__(maker, name: str, bases: tuple[type, ...], space: dict[str, Any]) -> Any:
            fields = tuple(space.get("__annotations__", ()))
            defaults = {field: space[field] for field in fields if field in space}
            if bases and bases[0].__dict__.get("_fields"):
                return super().__new__(maker, name, bases, space)  # a subclass of one: no field is added to it
            if tuple(defaults) != fields[len(fields) - len(defaults) :]:
                raise TypeError(f"{name}: a field without a default stands after one with")
            own = {field: _getter(n, f"field {n}") for n, field in enumerate(fields)}
            made = {"__slots__": (), "_fields": fields, "_field_defaults": defaults, "__match_args__": fields}
            cls = super().__new__(maker, name, bases, {**space, **own, **made})
            if bases:
                cls.__new__ = _first_new(cls)
            return cls

    def _first_new(cls: Any) -> Any:
        """A `__new__` that compiles the real one at the first call, and gives way to it."""

        def __new__(kind: Any, *args: Any, **kwargs: Any) -> Any:
            if cls.__dict__["__new__"] is __new__:
                cls.__new__ = _compiled_new(cls)
            return cls.__new__(kind, *args, **kwargs)

        return __new__

    def _compiled_new(cls: Any) -> Any:
        known = {
            "_new": tuple.__new__,
            **{f"default_{n}": value for n, value in enumerate(cls._field_defaults.values())},
        }
        numbers = {field: n for n, field in enumerate(cls._field_defaults)}
        parameters = [f"{field}=default_{numbers[field]}" if field in numbers else field for field in cls._fields]
        values = "".join(f"{field}, " for field in cls._fields)
        exec(f"def __new__({', '.join(['_cls', *parameters])}): return _new(_cls, ({values}))", known)
        made = known["__new__"]
        made.__qualname__ = f"{cls.__qualname__}.__new__"
        return made

    class NamedTuple(tuple, metaclass=_Maker):
        """The base of a class whose annotations are the fields of a tuple."""

        __slots__ = ()

        @classmethod
        def _make(cls, values: Any) -> Any:
            made = tuple.__new__(cls, values)
            if len(made) != len(cls._fields):
                raise TypeError(f"{cls.__name__} has {len(cls._fields)} fields, not {len(made)}")
            return made

        def _replace(self, /, **changes: Any) -> Any:
            return type(self)(**{**self._asdict(), **changes})

        def _asdict(self) -> dict[str, Any]:
            return dict(zip(self._fields, self, strict=True))

        def __repr__(self) -> str:
            return (
                f"{type(self).__name__}({', '.join(f'{field}={value!r}' for field, value in self._asdict().items())})"
            )

        def __getnewargs__(self) -> tuple[Any, ...]:
            return tuple(self)
