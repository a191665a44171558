"""What went wrong before anything could be decided: what is no TOML, and what is not the format's."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from setuplint.book.rule_file import Rule
from setuplint.findings import Finding, Place
from setuplint.setup.problems import SetupProblem
from setuplint.setup.texts import Texts


def loading_findings(texts: Texts, problems: Sequence[SetupProblem], rules: Mapping[str, Rule]) -> Iterator[Finding]:
    """The findings of a text, by the rules that its problems name."""
    if any(document.problems for document in texts):
        yield from _not_toml(texts, rules["not-toml"])
    for p in problems:
        rule = rules[p.rule]
        yield Finding(
            rule.name, rule.signal, p.message, p.subject, Place(p.path, key=p.key, within=p.within, file=p.file),
            tuple(Place(other.path, other.caption, file=other.file) for other in p.related),
            why=rule.why, remedy=p.help or rule.remedy,
        )  # fmt: skip


def _not_toml(texts: Texts, rule: Rule) -> Iterator[Finding]:
    """What is no TOML."""
    from setuplint.setup.meant import fault_meant

    for document in texts:
        of = "" if document is texts.own else f" of {document.name}"
        for fault in document.problems:
            line = document.position(fault.span.start)[0]
            span, help = fault_meant(document, fault)
            yield Finding(
                rule.name, rule.signal, fault.message, f"line {line}{of}", Place(span=span, file=document.name),
                why=rule.why, remedy=help,
            )  # fmt: skip
