"""The turn of a request: of the text as it was when the request came, or of none."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import wraps
from typing import Any

from setuplint.server.session import Session
from setuplint.server.snapshot import ASKED

Handler = Callable[..., Awaitable[Any]]


def in_turn(handler: Handler, *, behind: bool) -> Handler:
    """A handler of requests about a text, which answers ContentModified where the text is another by now: an editor asks again.
    `behind`: it comes after the list of problems, if that takes no longer than a moment."""

    @wraps(handler)
    async def answer(session: Session, params: Any) -> Any:
        asked = ASKED.get()
        if asked is None:
            return await handler(session, params)
        asked.check()
        if behind:
            await session.scheduler.shown_soon(asked.file)
            asked.check()
        found = await handler(session, params)
        asked.check()
        return found

    return answer
