"""LSP's types are completed one by one, and are what they are where all are at once."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from .conftest import ROOT

SCRIPT = """
import json, sys
from concurrent.futures import ThreadPoolExecutor
if sys.argv[1] == "postponed":
    import setuplint.server
import attrs
from lsprotocol import types
from lsprotocol.converters import get_converter

if sys.argv[1] == "postponed":
    from setuplint.server import postponed_types
    assert len(postponed_types._postponed) > 500
types_by_name = types.ALL_TYPES_MAP.items()
classes = {name: each for name, each in types_by_name if isinstance(each, type) and not issubclass(each, (int, str))}
with ThreadPoolExecutor(8) as pool:
    list(pool.map(attrs.has, [each for each in classes.values() for _ in range(8)]))

def of(call):
    try:
        return repr(call())
    except Exception as error:
        return type(error).__name__

converter = get_converter()
place = {"line": 1, "character": 2}
hover = {"contents": {"kind": "markdown", "value": "x"}, "range": {"start": place, "end": place}}
told = [
    [
        [name, each.__hash__ is None, [[a.name, str(a.type), str(a.default), bool(a.validator)] for a in attrs.fields(each)]]
        for name, each in sorted(classes.items()) if attrs.has(each)
    ],
    of(lambda: hash(types.Position(1, 2))),
    of(lambda: types.Position("x", 2)),
    of(lambda: types.Position(1, 2) < types.Position(1, 3)),
    of(lambda: setattr(types.Position(1, 2), "line", "x")),
    of(lambda: types.CompletionItem("x") == types.CompletionItem("x")),
    of(lambda: types.CompletionItem("x")),
    of(lambda: converter.structure(hover, types.Hover)),
    converter.unstructure(converter.structure(hover, types.Hover)) == hover,
]
print(json.dumps(told))
"""


def told(how: str) -> list[object]:
    done = subprocess.run([sys.executable, "-c", SCRIPT, how], cwd=ROOT, capture_output=True, text=True, check=True)
    found: list[object] = json.loads(done.stdout)
    return found


@pytest.mark.slow
def test_types_are_the_same_where_each_is_completed_when_it_is_used() -> None:
    """Also where eight threads use one first."""
    postponed, others = told("postponed"), told("at once")
    assert postponed == others
    assert len(postponed[0]) > 500  # type: ignore[arg-type]
