"""rules/README.md is what the rule files say, and has every one of them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from setuplint.book import rulebook
from setuplint.formats.rule_pages import rules_document

ROOT = Path(__file__).parent.parent
PAGES = (ROOT / "rules" / "README.md").read_text(encoding="utf-8")


def test_the_committed_document_is_current() -> None:
    assert rules_document() == PAGES, "run: python -m setuplint.formats.rule_pages > rules/README.md"


def test_every_rule_has_its_page_and_is_listed_once() -> None:
    assert sorted(re.findall(r"^### (.+)$", PAGES, re.MULTILINE)) == list(rulebook.rules())
    assert sorted(re.findall(r"^\| \[([a-z-]+)\]\(#\1\) \|", PAGES, re.MULTILINE)) == list(rulebook.rules())


@pytest.mark.parametrize("name", rulebook.rules())
def test_a_page_has_all_that_a_rule_says(name: str) -> None:
    """Compared without the escapes of Markdown."""
    page = PAGES.partition(f"\n### {name}\n")[2].partition("\n### ")[0].replace("\\", "")
    whole = rulebook.page(name)
    rule = whole.rule
    told = [rule.title, f"(**{rule.signal}**)", rule.why, rule.remedy, *rule.limits]
    told += [limit.unit for limit in rule.limits.values()]
    told += [text for source in whole.sources for text in (source.says, source.where or "")]
    for text in told:
        assert " ".join(text.split()).replace("\\", "") in page
    assert " ".join((rule.never or rule.always or "**Meaning.**").split()) in page


def test_the_readme_leads_to_it() -> None:
    assert "](rules/README.md)" in (ROOT / "README.md").read_text(encoding="utf-8")
