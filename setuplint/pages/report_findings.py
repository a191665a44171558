"""The findings of a report: each with the lines of the file, its case, and what to do."""

from __future__ import annotations

from collections.abc import Sequence

from setuplint.findings import Finding, Report, shortened
from setuplint.formats import case_text
from setuplint.formats.excerpt import excerpt
from setuplint.formats.finding_text import finding_item
from setuplint.formats.step_outputs import outputs_on_the_way
from setuplint.formats.summary import ADVICE, of_subject, overflow, summary_of
from setuplint.formats.terminal import Look
from setuplint.pages.html import tag, text
from setuplint.pages.report_curves import curve_anchor
from setuplint.setup.model import Setup

LISTED = 4  # findings; from here on a list of them comes first
WIDTH = 100  # characters of a line of the file
Explained = dict[tuple[str, str, str], int]  # rule, why and remedy, with the number of the finding that has them


def findings_html(report: Report, setup: Setup) -> str:
    if not report.findings:
        return tag("p", text(f"{summary_of(report).tally.text().capitalize()}."))
    explained: Explained = {}
    found = shortened(report.findings).findings
    blocks = [_finding_html(report, finding, n, setup, explained) for n, finding in enumerate(found, start=1)]
    blocks += [tag("p", text(f"{more.words}.")) for more in overflow(report)]
    return "\n".join([_overview(found), *blocks] if len(found) >= LISTED else blocks)


def _overview(found: Sequence[Finding]) -> str:
    """Links to the findings."""
    items = []
    for number, each in enumerate(found, start=1):
        link = tag("a", text(f"{each.rule}{of_subject(each.subject)}"), href=f"#finding-{number}")
        items.append(tag("li", _signal_html(each) + link, value=number))
    return tag("ol", "".join(items), class_="overview")


def _signal_html(finding: Finding) -> str:
    return tag("span", text(finding.signal), class_=f"signal {finding.signal}")


def _finding_html(report: Report, finding: Finding, number: int, setup: Setup, explained: Explained) -> str:
    place = tag("code", text(finding_item(report, finding).place)) + text(f" · {finding.rule}")
    first = explained.setdefault((finding.rule, finding.why, finding.remedy), number)
    label = f"Finding {number}: lines of the file"
    quoted = lines_html(report, finding, WIDTH, tabindex="0", role="region", aria_label=label)
    notes = notes_html(finding, case_html(report, finding), first if first < number else 0)
    return tag(
        "article",
        f"{tag('h3', _signal_html(finding) + text(finding.message))}\n{tag('p', place, class_='soft')}\n"
        f"{quoted}\n{notes}\n{_links_html(finding, number, setup)}",
        class_=f"finding {finding.signal}",
        id=f"finding-{number}",
    )


def lines_html(report: Report, finding: Finding, width: int, **attributes: object) -> str:
    """The lines of the file that it is about, `width` characters wide; empty where there are none."""
    lines = "\n".join(map(text, "\n".join(excerpt(report, finding, Look(width=width))).split("\n")))
    return tag("pre", lines, **attributes) if lines else ""


def case_html(report: Report, finding: Finding) -> str:
    """What to do on the bench; where memory matters, with the steps from power-up."""
    sentence = text(case_text.case_sentence(finding, report.values))
    if not finding.steps:
        return sentence
    steps = case_text.case_steps(finding, report.values, outputs_on_the_way(report, finding))
    return sentence + tag("ol", "".join(tag("li", text(step.text)) for step in steps))


def notes_html(finding: Finding, case: str, explained: int = 0) -> str:
    """What to do and to know, as a list. `case` is HTML; `explained` is the number of a finding that said why already."""
    notes = [("On the bench", case), ("Advice", ADVICE if finding.status == "advice" else "")]
    notes.append(("Estimate", _one_line(finding.estimate)))
    if explained:
        link = tag("a", text(f"as in finding {explained}"), href=f"#finding-{explained}")
        notes.append(("Why, remedy", link))
    else:
        notes += [("Why", _one_line(finding.why)), ("Remedy", _one_line(finding.remedy))]
    return tag("dl", "".join(tag("dt", label) + tag("dd", words) for label, words in notes if words))


def _one_line(words: str) -> str:
    return text(" ".join(words.split()))


def _links_html(finding: Finding, number: int, setup: Setup) -> str:
    """Where the page has more of it: its case in the explorer, its curve, who else takes its channel."""
    links = []
    if finding.witness or finding.steps:
        look, words = "show script", "Try this case" if finding.timing is None else "Play this run"
        links.append(tag("button", words, class_=look, type="button", data_finding=number - 1, hidden=True))
    kind, name = (*map(str, finding.primary.path[:2]), "", "")[:2]
    if kind == "curves" and name in setup.curves:
        links.append(tag("a", "See the curve", href=f"#{curve_anchor(name)}"))
    if kind == "overrides" and setup.overrides:
        links.append(tag("a", "See who takes what", href="#overrides"))
    return tag("p", " ".join(links), class_="ways") if links else ""
