"""Comparing what we read with what the standard library reads."""

import math
from decimal import Decimal
from typing import Any


def same(ours: Any, theirs: Any) -> bool:
    """Equal in type, value and order, where their float is our Decimal."""
    if isinstance(theirs, float):
        return type(ours) is Decimal and (float(ours) == theirs or (ours.is_nan() and math.isnan(theirs)))
    if type(ours) is not type(theirs):
        return False
    if isinstance(theirs, dict):
        return list(ours) == list(theirs) and all(same(ours[key], theirs[key]) for key in theirs)
    if isinstance(theirs, list):
        return len(ours) == len(theirs) and all(map(same, ours, theirs))
    return bool(ours == theirs)
