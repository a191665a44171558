"""What the first hover, completion and action need, imported while nothing is typed: each would take a fifth of a second else."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from importlib import import_module

from setuplint.server import format_schema
from setuplint.server.scheduling import Scheduler
from setuplint.server.snapshot import RequestWorker

PAUSE = 0.5  # seconds after a text was judged
STEPS: tuple[Callable[[], object], ...] = (
    format_schema.schema,
    partial(import_module, "setuplint.pages.softening"),
    partial(import_module, "setuplint.comparison.samples"),
    partial(import_module, "setuplint.comparison.safety"),
)


async def warm_up(scheduler: Scheduler, worker: RequestWorker) -> None:
    """Once in a session; it waits while a text is judged."""
    for step in STEPS:
        await asyncio.sleep(PAUSE)
        while not scheduler.is_idle():
            await asyncio.sleep(PAUSE)
        await worker.result(step)
