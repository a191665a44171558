"""What a setup does: questions decided over every reachable state, exactly, with a case to try on the bench.

`setuplint.decide(setup)` is the library's word for it, and this room has the same name: so the room can be called.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import Any


class _Room(ModuleType):
    def __call__(self, setup: Any) -> Any:
        """The engine for one setup (as loaded, or its model)."""
        from setuplint.decide.decider import Decider

        return Decider(getattr(setup, "model", setup))


sys.modules[__name__].__class__ = _Room
