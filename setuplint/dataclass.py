"""`dataclass` as Python's own module has it, but for when it works: `__init__` is compiled when a class is first used.

Python's compiles up to eight functions for each class as that is imported. A lint imports more than a hundred such classes and
makes objects of half of them, so this was a quarter of all its work (docs/scale.md). Here is the part of `dataclasses` that
this package uses: `frozen`, `slots`, defaults, `field` with `default`, `default_factory`, `compare` and `repr`,
`__post_init__`. To a type checker it is Python's own; `dataclasses.fields`, `asdict` and `replace` take these classes too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from operator import attrgetter

from setuplint.hints import TYPE_CHECKING, Any


class FrozenRecord(AttributeError):
    """Something tried to set or delete a field of a frozen object."""


class Field:
    """One field: what `field` was told, and its name. NONE stands where no default, or no factory, was given."""

    __slots__ = ("compare", "default", "factory", "name", "repr")

    def __init__(self, default: Any, factory: Any, compare: bool, repr: bool) -> None:
        self.name = ""
        self.default, self.factory, self.compare, self.repr = default, factory, compare, repr


NONE: Any = type("NoDefault", (), {"__repr__": lambda self: "NONE"})()

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
    from dataclasses import field as field
    from dataclasses import replace as replace
else:

    def dataclass(cls=None, /, *, frozen=False, slots=False):
        """A class decorator, with or without options."""
        return _made(cls, frozen, slots) if cls is not None else lambda it: _made(it, frozen, slots)

    def field(*, default=NONE, default_factory=NONE, compare=True, repr=True):
        """What a field has besides its type."""
        return Field(default, default_factory, compare, repr)

    def replace(record, /, **changes):
        """A copy with other values for some fields."""
        for name in record.__match_args__:
            if name not in changes:
                changes[name] = getattr(record, name)
        return type(record)(**changes)


def field_names(record: Any) -> tuple[str, ...]:
    """The fields of an object or a class, in their order."""
    names: tuple[str, ...] = record.__match_args__
    return names


def _made(cls: Any, frozen: bool, slots: bool) -> Any:
    own = list(_own_fields(cls))
    fields = tuple({each.name: each for each in (*getattr(cls, "__record_fields__", ()), *own)}.values())
    methods = _methods(fields, frozen, slots)
    new = {name: value for name, value in methods.items() if name not in cls.__dict__}
    if slots:
        cls = _with_slots(cls, own, new)
    else:
        for name, value in new.items():
            setattr(cls, name, value)
        for each in own:
            if each.default is not NONE:
                setattr(cls, each.name, each.default)
            elif each.name in cls.__dict__:
                delattr(cls, each.name)
    if "__init__" not in cls.__dict__:
        cls.__init__ = _first_init(cls, frozen, slots)
    return cls


def _own_fields(cls: Any) -> Iterator[Field]:
    for name, kind in cls.__dict__.get("__annotations__", {}).items():  # noqa: RUF063 - inspect takes long to import
        if kind.startswith("ClassVar"):
            continue
        given = cls.__dict__.get(name, NONE)
        found = given if isinstance(given, Field) else Field(given, NONE, True, True)
        found.name = name
        yield found


def _methods(fields: tuple[Field, ...], frozen: bool, slots: bool) -> dict[str, Any]:
    """All that can be had without compiling, and does not stand in the class already."""
    values = _values_of([each.name for each in fields if each.compare])
    shown = [each.name for each in fields if each.repr]

    def __eq__(self: Any, other: Any) -> Any:
        return values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented

    def __hash__(self: Any) -> int:
        return hash(values(self))

    def __repr__(self: Any) -> str:
        return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in shown)})"

    found = {
        "__record_fields__": fields,
        "__dataclass_fields__": _StandardFields(),
        "__match_args__": tuple(each.name for each in fields),
        "__eq__": __eq__,
        "__hash__": __hash__ if frozen else None,
        "__repr__": __repr__,
    }
    if frozen:
        found |= {"__setattr__": _refuse, "__delattr__": _refuse}
    if frozen and slots:
        found |= _state_methods([each.name for each in fields])
    return found


def _values_of(names: list[str]) -> Callable[[Any], Any]:
    """What gives the values of these fields: a tuple of several, one alone."""
    return attrgetter(*names) if names else lambda record: ()


def _refuse(self: Any, name: str, value: Any = None) -> None:
    raise FrozenRecord(f"{type(self).__qualname__} is frozen: its {name} stays as it is")


def _state_methods(names: list[str]) -> dict[str, Any]:
    """For pickle and copy, which set fields in ways that a frozen object refuses."""

    def __getstate__(self: Any) -> list[Any]:
        return [getattr(self, name) for name in names]

    def __setstate__(self: Any, state: list[Any]) -> None:
        for name, value in zip(names, state, strict=True):
            object.__setattr__(self, name, value)

    return {"__getstate__": __getstate__, "__setstate__": __setstate__}


def _with_slots(cls: Any, own: list[Field], methods: dict[str, Any]) -> Any:
    """The class made again, its own fields as slots: at once with all its methods, since Python looks through all the slots
    of a type whenever one is set later."""
    inherited = {name for base in cls.__mro__[1:] for name in getattr(base, "__slots__", ())}
    names = tuple(each.name for each in own if each.name not in inherited)
    left_out = {"__dict__", "__weakref__", *(each.name for each in own)}
    kept = {key: value for key, value in cls.__dict__.items() if key not in left_out}
    made = type(cls)(cls.__name__, cls.__bases__, {**kept, **methods, "__slots__": names})
    made.__qualname__ = cls.__qualname__
    return made


def _first_init(cls: Any, frozen: bool, slots: bool) -> Callable[..., None]:
    """An `__init__` that compiles the real one at the first call, and gives way to it."""

    def __init__(self: Any, *args: Any, **kwargs: Any) -> None:
        if cls.__dict__["__init__"] is __init__:
            cls.__init__ = _compiled_init(cls, frozen, slots)
        cls.__init__(self, *args, **kwargs)

    return __init__


def _compiled_init(cls: Any, frozen: bool, slots: bool) -> Any:
    known: dict[str, Any] = {"NONE": NONE}
    parameters, lines = [], []
    for n, each in enumerate(cls.__record_fields__):
        parameter, value = each.name, each.name
        if each.default is not NONE:
            known[f"default_{n}"] = each.default
            parameter += f"=default_{n}"
        elif each.factory is not NONE:
            known[f"factory_{n}"] = each.factory
            parameter += "=NONE"
            value = f"factory_{n}() if {each.name} is NONE else {each.name}"
        parameters.append(parameter)
        if frozen and slots:
            # a slot's own setter takes less than half of what object.__setattr__ does
            known[f"set_{n}"] = getattr(cls, each.name).__set__
            lines.append(f"set_{n}(self, {value})")
        elif frozen:
            lines.append(f"self.__dict__[{each.name!r}] = {value}")
        else:
            lines.append(f"self.{each.name} = {value}")
    if hasattr(cls, "__post_init__"):
        lines.append("self.__post_init__()")
    body = "".join(f"\n    {line}" for line in lines or ["pass"])
    exec(f"def __init__({', '.join(['self', *parameters])}):{body}", known)
    made = known["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    return made


class _StandardFields:
    """`__dataclass_fields__`, by which `dataclasses` knows its own: made once, when somebody looks."""

    def __get__(self, record: Any, cls: Any) -> Any:
        import dataclasses

        def twin(each: Field) -> tuple[str, Any, Any]:
            default: dict[str, Any] = {"default": each.default} if each.default is not NONE else {}
            if each.factory is not NONE:
                default = {"default_factory": each.factory}
            return each.name, Any, dataclasses.field(**default, compare=each.compare, repr=each.repr)

        made: Any = dataclasses.make_dataclass(cls.__name__, map(twin, cls.__record_fields__))
        cls.__dataclass_fields__ = made.__dataclass_fields__  # from now on without this
        return made.__dataclass_fields__
