"""The draft of an interview: the replies so far, in a file beside the one that is to be written. Nothing of the user's is ever
in its place."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from pathlib import Path

from setuplint.cli import whole_files

MARK = "setuplint draft"
MOST = 9  # names that are tried
LARGEST = 1_000_000  # bytes


class Draft:
    """Where the replies are kept; `path` is empty where they are not, `trouble` then says why."""

    def __init__(self, file: str) -> None:
        self.path, self.trouble = "", ""
        self.replies: dict[str, str] = {}
        self._data: bytes | None = None
        if file == "-":
            return
        for number in range(1, MOST + 1):
            path = f"{file}.draft" if number == 1 else f"{file}.draft-{number}"
            found = _content(path)
            if found is not None or not os.path.lexists(path):
                self.path, self._data = path, found
                self.replies = _replies(found) if found is not None else {}
                return
        self.trouble = f"{file}.draft to {file}.draft-{MOST} are there, and none is a draft of setuplint"

    def keep(self, replies: dict[str, str]) -> None:
        """Puts the replies into the file, whole. Where that cannot be done it says so in `trouble`, and no more is tried."""
        if not self.path:
            return
        data = json.dumps({MARK: 1, "replies": replies}, indent=1, ensure_ascii=False).encode() + b"\n"
        try:
            if self._data is None:
                whole_files.create(self.path, data)
            else:
                whole_files.replace(self.path, self._data, data)
        except OSError as error:
            self.trouble, self.path = f"no draft can be kept in {self.path}: {error.strerror or error}", ""
            return
        self._data = data

    def remove(self) -> None:
        """Once the setup is written; only what was last put there."""
        if self.path and self._data is not None:
            with suppress(OSError):
                if Path(self.path).read_bytes() == self._data:
                    os.unlink(self.path)


def _content(path: str) -> bytes | None:
    """What is in a draft of ours; None where it is none."""
    try:
        if not os.path.isfile(path) or os.path.islink(path) or os.path.getsize(path) > LARGEST:
            return None
        data = Path(path).read_bytes()
        found = json.loads(data)
    except (OSError, ValueError, RecursionError):
        return None
    return data if isinstance(found, dict) and found.get(MARK) == 1 else None


def _replies(data: bytes) -> dict[str, str]:
    found = json.loads(data).get("replies")
    if not isinstance(found, dict):
        return {}
    return {key: reply for key, reply in found.items() if isinstance(reply, str)}
