"""Messages on standard input and output."""

from __future__ import annotations

import asyncio
import io
import os
import re
import sys
import threading
from collections.abc import Callable

from pygls.io_ import run_async

from setuplint.server.session import Session

CHUNK = 65_536  # bytes that are read at once
LONGEST_LINE = 1_000_000  # bytes of a message's head
SIZE = re.compile(rb"content-length:[ \t]*([0-9]+)[ \t]*\r?\n", re.IGNORECASE)  # as HTTP lets it be written


class CheckedOutput(io.BufferedWriter):
    """What is written to here and fails is told to `failed`, but where nobody reads on."""

    failed: Callable[[OSError], None]

    def flush(self) -> None:
        try:
            super().flush()
        except BrokenPipeError:
            raise
        except OSError as error:
            self.failed(error)


def output(failed: Callable[[OSError], None]) -> CheckedOutput:
    """Standard output, which nobody else writes to from now on."""
    out = CheckedOutput(io.FileIO(os.dup(sys.stdout.fileno()), "wb"))
    out.failed = failed
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return out


class BatchedOutput:
    """Writes what is sent in one turn of the event loop at once: each write lets the thread that judges go on for a while."""

    def __init__(self, out: CheckedOutput) -> None:
        self.out = out
        self.loop = asyncio.get_running_loop()
        self.left: list[bytes] = []

    def write(self, data: bytes) -> None:
        if not self.left:
            self.loop.call_soon(self.flush)
        self.left.append(data)

    def flush(self) -> None:
        """SystemExit where nobody reads any longer: it ends the event loop."""
        data, self.left = b"".join(self.left), []
        try:
            if data:
                self.out.write(data)
                self.out.flush()
        except BrokenPipeError:
            raise SystemExit(1) from None

    def close(self) -> None:
        self.flush()
        self.out.close()


class Input(asyncio.StreamReader):
    """Standard input, read by a thread of its own: what has come is handled at once, so that of many changes in a row the last is
    known before work on the first begins."""

    def __init__(self) -> None:
        super().__init__(limit=LONGEST_LINE, loop=asyncio.get_running_loop())
        threading.Thread(target=self._read, args=(asyncio.get_running_loop(),), daemon=True).start()

    def _read(self, loop: asyncio.AbstractEventLoop) -> None:
        try:
            while data := os.read(sys.stdin.fileno(), CHUNK):
                loop.call_soon_threadsafe(self.feed_data, data)
            loop.call_soon_threadsafe(self.feed_eof)
        except (OSError, RuntimeError, ValueError):
            pass  # the server has ended

    async def readline(self) -> bytes:
        try:
            line = await super().readline()
        except ValueError:
            return b"\n"  # longer than any line of the protocol
        size = SIZE.fullmatch(line)
        return line if size is None else b"Content-Length: %b\r\n" % size.group(1)


def talk(session: Session, out: CheckedOutput) -> None:
    """Until one of the two ends."""
    session._stop_event = stop = threading.Event()
    try:
        asyncio.run(_talk(session, out, stop))
    except (BrokenPipeError, asyncio.IncompleteReadError, KeyboardInterrupt, SystemExit):
        pass
    finally:
        session.shutdown()  # type: ignore[no-untyped-call]


async def _talk(session: Session, out: CheckedOutput, stop: threading.Event) -> None:
    session.protocol.set_writer(BatchedOutput(out))
    await run_async(stop, Input(), session.protocol, error_handler=session.report_server_error)
