"""What hovers show, as Markdown. Texts of a setup may come from strangers: they are escaped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from setuplint.book import rulebook
from setuplint.book.rule_file import Page, Rule
from setuplint.dataclass import replace
from setuplint.findings import Finding
from setuplint.formats.markdown_text import escaped
from setuplint.formats.rule_pages import rule_text
from setuplint.formats.terminal import FIXED_SPACE, Look
from setuplint.server.formula_words import Word, formula_words, is_formula
from setuplint.server.occurrences import RULE, Name
from setuplint.server.parsed import ParsedText
from setuplint.server.part_markdown import curve_markdown, fenced, name_markdown, threshold_markdown
from setuplint.server.table_pieces import path_at, span_within, spans_at
from setuplint.setup.problems import value_at
from setuplint.setup.schema import description
from setuplint.setup.shape import row_at
from setuplint.source import Path, Span

WIDTH = 88  # of a rule's page
PREDICATES = {
    "hold called": "the formula of `[intent] hold` holds; without one, never",
    "stop called": "the formula of `[intent] stop` holds; without one, never",
    "rescue called": "the formula of `[intent] rescue` holds; without one, never",
    "motor runs": "a channel that drives a motor puts out more than `craft.motor-off`",
    "rotor driven": "such a channel puts out more than `craft.rotor-free`",
    "flying": "the motor runs and hold is not called",
    "levelled": "the channel of `[intent] level` puts out what levels the craft",
    "lifted": "the channel of `[intent] lift` puts out what lifts it",
    "sprung switches released": "every momentary switch is at its first position",
    "start allowed": "the formula of `[start] requires` holds; without one, always",
}

Paragraphs = list[str]


def hover(
    parsed: ParsedText, findings: Sequence[Finding], offset: int, rules: Mapping[str, Rule] | None = None
) -> tuple[str, Span] | None:
    """Markdown, and the span that it is about; None where there is nothing to show. `findings` are those at this place,
    `rules` those by which the setup is judged."""
    shown, span = _paragraphs(parsed, offset, rules)
    shown = [*shown, *(finding_markdown(finding) for finding in findings)]
    if not shown:
        return None
    return "\n\n".join(shown).replace(FIXED_SPACE, " "), span or Span(offset, offset)


def _paragraphs(parsed: ParsedText, offset: int, rules: Mapping[str, Rule] | None) -> tuple[Paragraphs, Span | None]:
    own = parsed.own
    path = path_at(own, offset)
    if path is not None and is_formula(path):
        found = _formula_paragraphs(parsed, path, offset)
        if found is not None:
            return found
    here = parsed.occurrence_at(offset)
    if here is not None:
        if here.name.kind == RULE:
            return rule_markdown(here.name.word, rules), here.span
        return parsed.kept(_name_paragraphs, here.name), here.span
    span = next(spans_at(own, path, offset), None) if path is not None else None
    if path is None or span is None:
        return [], None
    is_curve = path[0] == "curves" and path[2:3] == ("points",)
    return [*key_markdown(path), *(parsed.kept(_curve_paragraphs, str(path[1])) if is_curve else ())], span


def _name_paragraphs(parsed: ParsedText, name: Name) -> Paragraphs:
    return list(name_markdown(parsed, name))


def _curve_paragraphs(parsed: ParsedText, name: str) -> Paragraphs:
    return list(curve_markdown(parsed.setup, name))


def key_markdown(path: Path) -> Paragraphs:
    """What the format says of a key."""
    about = description(row_at(path))
    if not about:
        return []
    name = next(step for step in reversed(path) if isinstance(step, str))
    return [f"**{escaped(name)}**: {about}"]


def rule_markdown(name: str, rules: Mapping[str, Rule] | None = None) -> Paragraphs:
    """A rule's page; nothing where there is none of that name. `rules` are those by which a setup is judged: they have a club's
    own, and ours with the club's limits."""
    if rules is None or name not in rules:
        return [page_markdown(rulebook.page(name))] if name in rulebook.rules() else []
    ours = rulebook.page(name) if name in rulebook.rules() else Page(rules[name], (), ())
    return [page_markdown(replace(ours, rule=rules[name]))]


def page_markdown(found: Page) -> str:
    return fenced(rule_text(found, Look(width=WIDTH)))


def finding_markdown(finding: Finding) -> str:
    """Why a finding matters, and what to do; the editor shows the message itself."""
    lines = [f"**{finding.signal}** {escaped(finding.rule)}"]
    if finding.status == "advice":
        lines.append("Advice: a rule of thumb, or worked out from estimates, not a proof.")
    lines += [f"{escaped(finding.estimate)}"] if finding.estimate else []
    lines += [f"*Why.* {escaped(finding.why)}"] if finding.why else []
    lines += [f"*Remedy.* {escaped(finding.remedy)}"] if finding.remedy else []
    return "\n\n".join(lines)


def _formula_paragraphs(parsed: ParsedText, path: Path, offset: int) -> tuple[Paragraphs, Span] | None:
    """The meaning of a threshold or predicate in a formula; None elsewhere in it."""
    text = value_at(parsed.own.values, path)
    if not isinstance(text, str):
        return None
    found = list(formula_words(text))
    for name, sign, number in zip(found, found[1:], found[2:], strict=False):
        if name.role not in ("control", "channel") or sign.role != "operator" or number.role != "number":
            continue
        span = span_within(parsed.own, path, number.start, number.end)
        if span.start <= offset <= span.end:
            meaning = threshold_markdown(parsed, name.role, name.text, Fraction(number.text))
            return (meaning, span) if meaning else None
    return predicate_paragraphs(parsed, path, found, offset)


def predicate_paragraphs(
    parsed: ParsedText, path: Path, found: Sequence[Word], offset: int
) -> tuple[Paragraphs, Span] | None:
    """The meaning of a predicate among the words of a formula, where an offset is in one."""
    for predicate, meaning in PREDICATES.items():
        count = len(predicate.split())
        for n in range(len(found) - count + 1):
            phrase = found[n : n + count]
            if " ".join(word.text for word in phrase) == predicate and phrase[0].role == "predicate":
                span = span_within(parsed.own, path, phrase[0].start, phrase[-1].end)
                if span.start <= offset <= span.end:
                    return [f"**{predicate}**: {meaning}"], span
    return None
