"""What tomli-w writes, we read back equal, places and all."""

import datetime
from typing import Any

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from setuplint.source import parsed_document

# Surrogates are not text; in strings of several lines tomli-w turns a carriage return and line feed into the latter.
_TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r"), max_size=20)
_ZONES = st.builds(datetime.timezone, st.builds(lambda m: datetime.timedelta(minutes=m), st.integers(-1439, 1439)))
_SCALARS = st.one_of(
    st.booleans(),
    st.integers(-(10**30), 10**30),
    st.decimals(allow_nan=False),
    _TEXT,
    st.dates(),
    st.times(),
    st.datetimes(),
    st.datetimes(timezones=_ZONES),
)
_VALUES = st.recursive(
    _SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_TEXT, inner, max_size=4), max_leaves=20
)


@pytest.mark.slow
@settings(max_examples=300)
@given(st.dictionaries(_TEXT, _VALUES, max_size=6), st.booleans())
def test_written_values_come_back(values: dict[str, Any], many_lines: bool) -> None:
    text = tomli_w.dumps(values, multiline_strings=many_lines)
    for data in (text, text.encode(), b"\xef\xbb\xbf" + text.encode()):
        document = parsed_document(data)
        assert document.problems == []
        assert document.values == values
        assert _shape(document.values) == _shape(values)


def _shape(value: Any) -> Any:
    """Equal numbers may differ in type, as true and 1 do."""
    if isinstance(value, dict):
        return {key: _shape(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_shape(inner) for inner in value]
    return type(value)
