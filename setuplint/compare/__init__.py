"""What a craft does differently by another setup: by meaning, decided over every reachable state of both.

`setuplint.compare(old, new)` is the library's word for it, and this room has the same name: so the room can be called.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import Any


class _Room(ModuleType):
    def __call__(self, old: Any, new: Any) -> Any:
        """Two setups, as loaded or as paths, compared."""
        from setuplint.library import compare

        return compare(old, new)


sys.modules[__name__].__class__ = _Room
