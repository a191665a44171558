"""What annotations need of `typing`, without that: importing it is a thirtieth of all work of a lint (docs/scale.md). To a type
checker these are Python's own. For modules that a lint imports; others import `typing` itself."""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any as Any
    from typing import BinaryIO as BinaryIO
    from typing import NoReturn as NoReturn
    from typing import Protocol as Protocol
    from typing import TypeVar as TypeVar
    from typing import cast as cast
else:
    Any = BinaryIO = NoReturn = Protocol = object

    def TypeVar(name, **_):
        """What stands for a type: nothing looks at it."""
        return object

    def cast(kind, value):
        """The value."""
        return value
