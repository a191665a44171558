"""Where setuplint.toml and a club's rules are read from in the editor: what is open, while it is in order, before the disk."""

from __future__ import annotations

import os
from collections.abc import Mapping

from setuplint.book import club_rules, rulebook
from setuplint.book.club_rules import RuleText
from setuplint.book.rule_file import BookError
from setuplint.club import nearest
from setuplint.club.config_sources import Disk, is_inside
from setuplint.club.policy import text_problems
from setuplint.source import parsed_document


class OpenConfigs(Disk):
    """`texts` are the open ones, by real path. One in which something is wrong counts as it is on the disk: what is half typed
    would make findings come and go."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self.open_texts = texts
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

    def rule_texts(self, folder: str) -> list[RuleText]:
        found = {os.path.realpath(each.path): each for each in super().rule_texts(folder)}
        real = os.path.realpath(folder)
        for path, text in self.open_texts.items():
            if os.path.dirname(path) != real or not path.endswith(".toml"):
                continue
            saved = found.get(path) or RuleText(path, self.shown(path), b"")
            typed = saved._replace(data=text.encode(errors="surrogatepass"))
            if _is_rule(typed):
                found[path] = typed
        return sorted(found.values(), key=lambda each: each.path)


def _is_rule(text: RuleText) -> bool:
    try:
        return club_rules.page_of(text).rule.name not in rulebook.rules()
    except BookError:
        return False
