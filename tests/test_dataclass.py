"""Our `dataclass` against Python's own: the same text of classes under both, asked the same things."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
import sys
from collections.abc import Iterator
from types import ModuleType
from typing import Any

import pytest

from setuplint import dataclass as ours
from setuplint.budget import Spent
from setuplint.findings import Finding

CLASSES = '''
from __future__ import annotations
from typing import ClassVar

@dataclass(frozen=True, slots=True)
class Point:
    x: int
    y: int = 2
    kind: ClassVar[str] = "point"

    @property
    def sum(self) -> int:
        return self.x + self.y

@dataclass(frozen=True, slots=True)
class Empty:
    pass

@dataclass(frozen=True, slots=True)
class One:
    only: object

@dataclass(frozen=True, slots=True)
class Space(Point):
    """A base's fields come first."""
    z: int = 3

@dataclass(frozen=True)
class Loose:
    name: str
    places: dict[str, int] = field(default_factory=dict)

@dataclass(slots=True)
class Bag:
    things: list[int] = field(default_factory=list)
    note: str = field(default="", compare=False)
    seen: int = field(default=0, repr=False)

@dataclass
class Counted:
    count: int
    double: int = 0

    def __post_init__(self) -> None:
        self.double = 2 * self.count

@dataclass(frozen=True, slots=True)
class Own:
    a: int

    def __hash__(self) -> int:
        return 7

    def __repr__(self) -> str:
        return "mine"
'''
CALLS = """\
Point(1)
Point(1, 2)
Point(y=3, x=1)
Point()
Point(1, 2, 3)
Point(1, z=2)
Empty()
One([])
One(1)
Space(1)
Space(1, z=4)
Loose('a')
Loose('a', {'b': 1})
Bag()
Bag([1], 'said', 4)
Bag([1], seen=3)
Counted(3)
Own(1)
""".splitlines()


def module_of(name: str, maker: Any) -> ModuleType:
    module = ModuleType(name)
    module.__dict__.update(dataclass=maker.dataclass, field=maker.field)
    sys.modules[name] = module
    exec(CLASSES, module.__dict__)
    return module


@pytest.fixture(scope="module")
def both() -> Iterator[tuple[ModuleType, ModuleType]]:
    names = ("classes_of_ours", "classes_of_theirs")
    yield module_of(names[0], ours), module_of(names[1], dataclasses)
    for name in names:
        del sys.modules[name]


def outcome(module: ModuleType, code: str) -> Any:
    """What an expression gives, as text, or what it raises. Python's own stumble where a frozen class with slots refuses what
    is no field: that is a TypeError of `super`, and counts as the refusal that was meant."""
    try:
        return repr(eval(code, module.__dict__ | {"copy": copy, "pickle": pickle}))
    except Exception as error:
        refused = isinstance(error, AttributeError) or "super(type, obj)" in str(error)
        return AttributeError if refused else type(error)


@pytest.mark.parametrize("call", CALLS)
def test_an_object_does_what_pythons_does(both: tuple[ModuleType, ModuleType], call: str) -> None:
    questions = [
        call,
        f"{call}.__match_args__",
        f"hash({call}) == hash({call})",
        f"[{call} == other for other in ({', '.join(each for each in CALLS if each not in CALLS[3:6])})]",
        f"pickle.loads(pickle.dumps({call}))",
        f"copy.copy({call})",
        f"copy.deepcopy({call}) == {call}",
        f"hasattr({call}, '__dict__')",
        f"setattr({call}, 'x', 5)",
        f"setattr({call}, 'things', 5)",
        f"setattr({call}, 'unheard', 5)",
        f"delattr({call}, 'x')",
        f"{call}.sum",
        f"{call}.kind",
    ]
    for question in questions:
        assert outcome(both[0], question) == outcome(both[1], question), question


@pytest.mark.parametrize("call", [each for each in CALLS if each not in CALLS[3:6]])
def test_pythons_functions_take_an_object_of_ours(both: tuple[ModuleType, ModuleType], call: str) -> None:
    mine, theirs = (eval(call, module.__dict__) for module in both)
    assert dataclasses.is_dataclass(mine)
    assert mine.__dataclass_fields__ is mine.__dataclass_fields__  # made once: each time took a millisecond
    assert [(each.name, each.compare, each.repr) for each in dataclasses.fields(mine)] == [
        (each.name, each.compare, each.repr) for each in dataclasses.fields(theirs)
    ]
    assert dataclasses.asdict(mine) == dataclasses.asdict(theirs)
    if not call.startswith("Counted"):
        assert dataclasses.replace(mine) == mine == ours.replace(mine)


def test_a_signature_is_known_once_an_object_was_made(both: tuple[ModuleType, ModuleType]) -> None:
    for module in both:
        module.Bag()
    mine, theirs = (list(inspect.signature(module.Bag.__init__).parameters) for module in both)
    assert mine == theirs


def test_a_field_is_replaced(both: tuple[ModuleType, ModuleType]) -> None:
    assert repr(ours.replace(both[0].Space(1), y=9)) == "Space(x=1, y=9, z=3)"
    with pytest.raises(TypeError):
        ours.replace(both[0].Space(1), nothing=9)


def test_the_packages_own_classes_are_made_by_it() -> None:
    for cls in (Finding, Spent):
        assert ours.field_names(cls)
        assert type(cls.__dict__["__record_fields__"]) is tuple
