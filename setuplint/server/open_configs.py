"""Where setuplint.toml are read from in the editor: what is open there, while it is in order, before the disk."""

from __future__ import annotations

import os
from collections.abc import Mapping

from setuplint.club import nearest
from setuplint.club.config_sources import Disk, is_inside
from setuplint.club.policy import text_problems
from setuplint.source import parsed_document


class OpenConfigs(Disk):
    """`texts` are the open ones, by real path. One in which something is wrong counts as it is on the disk: what is half typed
    would make findings come and go."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self.texts = {
            path: text
            for path, text in texts.items()
            if os.path.basename(path) == nearest.NAME
            and not text_problems(parsed_document(text, nearest.NAME), nearest.given_config(path))
        }

    def content(self, path: str, root: str, most: int) -> bytes:
        real = os.path.realpath(path)
        text = self.texts.get(real) if is_inside(real, root) else None
        return super().content(path, root, most) if text is None else text.encode()[: most + 1]
