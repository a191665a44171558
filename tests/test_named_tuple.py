"""Our `NamedTuple` against Python's own: the same text of classes under both, asked the same things."""

from __future__ import annotations

import sys
import typing
from collections.abc import Iterator
from types import ModuleType

import pytest

from setuplint import named_tuple as ours
from tests.test_dataclass import outcome

CLASSES = '''
from __future__ import annotations

class Pair(NamedTuple):
    """Two."""
    new: int
    other: str = "x"

    @property
    def both(self):
        return f"{self.new}{self.other}"

    @classmethod
    def of(cls, text):
        return cls(int(text), text)

class Empty(NamedTuple):
    pass

class Shown(NamedTuple):
    only: list

    def __repr__(self):
        return "shown"

class Wider(Pair):
    def __add__(self, more):
        return "added"
'''
CALLS = [
    "Pair(1)",
    "Pair(1, 'a')",
    "Pair(other='b', new=2)",
    "Pair.of('7')",
    "Empty()",
    "Shown([])",
    "Wider(1)",
    "Wider(2, 'c')",
]
WRONG = ["Pair()", "Pair(1, 2, 3)", "Pair(1, third=2)", "Empty(1)", "Shown()"]
QUESTIONS = [
    "{}",
    "{}._fields",
    "{}._field_defaults",
    "{}.__match_args__",
    "{}._asdict()",
    "{}._replace()",
    "{}._replace(new=5)",
    "{}._replace(zzz=5)",
    "type({})._make([1])",
    "hash({})",
    "{} == tuple({})",
    "list({})",
    "len({})",
    "{}[0]",
    "{}.new",
    "{}.both",
    "{} + (1,)",
    "{} < (5,)",
    "pickle.loads(pickle.dumps({}))",
    "copy.copy({})",
    "copy.deepcopy({})",
    "type(pickle.loads(pickle.dumps({}))).__name__",
    "hasattr({}, '__dict__')",
    "setattr({}, 'new', 3)",
    "isinstance({}, tuple)",
    "type({}).__doc__ == 'Two.'",
    "type({}).__qualname__",
]


def module_of(name: str, base: object) -> ModuleType:
    module = ModuleType(name)
    module.__dict__["NamedTuple"] = base
    sys.modules[name] = module
    exec(CLASSES, module.__dict__)
    return module


@pytest.fixture(scope="module")
def both() -> Iterator[tuple[ModuleType, ModuleType]]:
    names = ("tuples_of_ours", "tuples_of_theirs")
    yield module_of(names[0], ours.NamedTuple), module_of(names[1], typing.NamedTuple)
    for name in names:
        del sys.modules[name]


@pytest.mark.parametrize("call", [*CALLS, *WRONG])
def test_a_tuple_does_what_pythons_does(both: tuple[ModuleType, ModuleType], call: str) -> None:
    for question in QUESTIONS:
        code = question.format(*[call] * question.count("{}"))
        mine, theirs = outcome(both[0], code), outcome(both[1], code)
        if isinstance(theirs, type) and issubclass(theirs, ValueError | TypeError):
            assert isinstance(mine, type), code  # Python's _replace has an error of its own
            assert issubclass(mine, ValueError | TypeError), code
        else:
            assert mine == theirs, code


def test_a_field_without_a_default_comes_first() -> None:
    with pytest.raises(TypeError):
        exec("class Bad(NamedTuple):\n    a: int = 1\n    b: int", {"NamedTuple": ours.NamedTuple, "__name__": "bad"})
