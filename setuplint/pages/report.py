"""The report of one set-up as a page: verdict, findings with their cases, curves, battery, who takes what, and an explorer."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from setuplint.book import rulebook
from setuplint.book.rule_file import Rule
from setuplint.findings import SIGNALS, Finding, NotJudged, Report
from setuplint.formats import case_text
from setuplint.formats.excerpt import excerpt
from setuplint.formats.steps import outputs_on_the_way
from setuplint.formats.summary import CAUTION, Covered, Said, summarise
from setuplint.formats.terminal import Look
from setuplint.formats.text import counted
from setuplint.pages import explorer
from setuplint.pages.html import asset, page, tag, text
from setuplint.pages.report_battery import battery
from setuplint.pages.report_channels import outputs, overrides
from setuplint.pages.report_curves import curves, place_of
from setuplint.pages.sheet import fingerprint
from setuplint.setup.model import Setup

LISTED = 4  # findings from which on a list of them stands first
WIDTH = 100  # characters of a line of the file


def report_page(report: Report, setup: Setup, rules: Mapping[str, Rule] | None = None) -> str:
    """The whole page, for the set-up that the report is of. `rules` are those that it was judged by, with a club's limits;
    without them, those of the book."""
    sections = [
        ("findings", "Findings", _findings(report, setup), False),
        ("explorer", "Try a state", EXPLORER, True),
        ("curves", "Curves", curves(setup), False),
        ("battery", "Battery", battery(setup, rules or rulebook.rules()), False),
        ("overrides", "Who can take which channel", overrides(setup), False),
        ("channels", "What each channel puts out", outputs(setup), False),
        ("decided", "What was decided", decided(report), False),
    ]
    there = [each for each in sections if each[2]]
    body = _head(report, setup, [(name, title, hidden) for name, title, _, hidden in there])
    body += tag("main", "\n".join(_section(*each) for each in there), id="main")
    body += tag("footer", tag("p", text(f"Made by setuplint from {report.name}.")))
    data = {
        "model": explorer.model(setup),
        "cases": [explorer.steps(each) for each in report.findings],
        "places": explorer.places(report, setup),
    }
    return page(f"{setup.craft.name}: report", body, data=json.dumps(data), script=asset("explorer.js"))


def _section(name: str, title: str, inside: str, hidden: bool) -> str:
    """One that needs the script is hidden without it, and takes the focus when the script leads there."""
    of_script = {"class_": "script", "hidden": True, "tabindex": "-1"} if hidden else {}
    return tag("section", f"{tag('h2', text(title))}\n{inside}", id=name, **of_script)


def verdict(report: Report) -> str:
    """`2 dangers, 1 notice`, or that nothing was found."""
    counts = {signal: sum(each.signal == signal for each in report.findings) for signal in SIGNALS}
    found = [
        tag("strong", text(counted(count, signal)), class_=f"signal {signal}")
        for signal, count in counts.items()
        if count
    ]
    return ", ".join(found) or tag("strong", "Nothing found", class_="signal good")


def _head(report: Report, setup: Setup, sections: list[tuple[str, str, bool]]) -> str:
    items = "".join(
        tag("li", tag("a", text(title), href=f"#{name}"), class_="script" if hidden else None, hidden=hidden)
        for name, title, hidden in sections
    )
    kept = ((len(report.waived), "waived"), (len(report.baselined), "in the baseline"), (_open(report), "not judged"))
    counts = [f"{count} {what}" for count, what in kept if count]
    more = " " + tag("a", text(", ".join(counts)), href="#decided") if counts else ""
    about = tag("code", text(report.name)) + text(f" · fingerprint {fingerprint(setup)}")
    return tag(
        "header",
        tag("h1", text(setup.craft.name))
        + tag("p", about, class_="soft")
        + tag("p", verdict(report) + more, class_="verdict")
        + tag("p", text(CAUTION), class_="careful")
        + tag("nav", tag("ul", items), aria_label="On this page"),
    )


def _open(report: Report) -> int:
    return len({each.rule for each in report.not_judged})


# -- findings


def _findings(report: Report, setup: Setup) -> str:
    if not report.findings:
        return tag("p", "Nothing found." + (" Some rules could not be judged: see below." if report.not_judged else ""))
    told: dict[tuple[str, str, str], int] = {}
    found = [_finding(report, finding, n, setup, told) for n, finding in enumerate(report.findings)]
    if len(found) >= LISTED:
        items = [
            tag("li", _signal(each) + tag("a", text(f"{each.rule}{_of(each.subject)}"), href=f"#finding-{n}"), value=n)
            for n, each in sorted(enumerate(report.findings, start=1), key=lambda one: SIGNALS.index(one[1].signal))
        ]
        found.insert(0, tag("ol", "".join(items), class_="overview"))
    return "\n".join(found)


def _signal(finding: Finding) -> str:
    return tag("span", text(finding.signal), class_=f"signal {finding.signal}")


def _of(subject: str) -> str:
    return f" of {subject}" if subject else ""


def _finding(
    report: Report, finding: Finding, number: int, setup: Setup, told_before: dict[tuple[str, str, str], int]
) -> str:
    """`told_before` has the numbers of the findings that said why, and what to do: each is said once."""
    where = report.where(finding.primary)
    line, column = where.start
    quoted = "\n".join(excerpt(report, finding, Look(width=WIDTH)))
    place = tag("code", text(f"{where.name}:{line}:{column}")) + text(f" · {finding.rule}")
    same = told_before.setdefault((finding.rule, finding.why, finding.remedy), number)
    case = text(case_text.sentence(finding, report.values)) + steps_of(report, finding)
    told = told_of(finding, case, same if same < number else None)
    named = f"Finding {number + 1}: lines of the file"
    lines = tag("pre", text_lines(quoted), tabindex="0", role="region", aria_label=named) if quoted else ""
    return tag(
        "article",
        f"{tag('h3', _signal(finding) + text(finding.message))}\n{tag('p', place, class_='soft')}\n"
        f"{lines}\n{told}\n{_further(finding, number, setup)}",
        class_=f"finding {finding.signal}",
        id=f"finding-{number + 1}",
    )


def told_of(finding: Finding, case: str, before: int | None = None) -> str:
    """What there is to do and to know, as a list. `case` is HTML; `before` is the number of a finding that said why, and what to
    do, already."""
    about = [("On the bench", case)]
    if finding.status == "advice":
        about.append(("Advice", "a rule of thumb, or worked out from estimates: not a proof."))
    about.append(("Estimate", text(_flat(finding.estimate))))
    if before is None:
        about += [("Why", text(_flat(finding.why))), ("Remedy", text(_flat(finding.remedy)))]
    else:
        link = tag("a", text(f"as in finding {before + 1}"), href=f"#finding-{before + 1}")
        about.append(("Why, remedy", link))
    return tag("dl", "".join(tag("dt", label) + tag("dd", words) for label, words in about if words))


def _further(finding: Finding, number: int, setup: Setup) -> str:
    """Where in the page there is more of it: its case in the explorer, its curve, who else takes its channel."""
    ways = []
    if finding.witness or finding.steps:
        ways.append(
            tag("button", "Try this case", class_="show script", type="button", data_finding=number, hidden=True)
        )
    kind, name = (*map(str, finding.primary.path[:2]), "", "")[:2]
    if kind == "curves" and name in setup.curves:
        ways.append(tag("a", "See the curve", href=f"#{place_of(name)}"))
    if kind == "overrides" and setup.overrides:
        ways.append(tag("a", "See who takes what", href="#overrides"))
    return tag("p", " ".join(ways), class_="ways") if ways else ""


def text_lines(lines: str) -> str:
    return "\n".join(text(line) for line in lines.split("\n"))


def _flat(words: str) -> str:
    return " ".join(words.split())


def steps_of(report: Report, finding: Finding) -> str:
    """The way from power-up, where memory matters, as a list."""
    if not finding.steps:
        return ""
    steps = case_text.steps(finding, report.values, outputs_on_the_way(report, finding))
    return tag(
        "ol", "".join(tag("li", text(": ".join(filter(None, (step.move, ", ".join(step.gives)))))) for step in steps)
    )


# -- what was decided


def decided(report: Report) -> str:
    """Over what it was decided, and what is not among the findings: waived, in the baseline, not judged."""
    summary = summarise(report)
    said = f"{counted(report.rules, 'rule')}, over {counted(report.states, 'state')} of the controls; "
    said += f"edition {report.edition} of the rules"
    said += f", by {report.config}." if report.config else "."
    parts = [tag("p", text(said))]
    parts += _listed("Waived", map(_waived, summary.covered))
    parts += _listed("Said of waivers", map(_remark, summary.said))
    kept = (f"{each.signal}: {each.message} [{each.rule}{_of(each.subject)}]" for each in report.baselined)
    parts += _listed("In the baseline", kept)
    parts += _listed("Not judged", _not_judged(report.not_judged))
    return "".join(parts)


def _listed(title: str, items: Iterator[str] | map[str]) -> Iterator[str]:
    every = [tag("li", text(each)) for each in items]
    if every:
        yield tag("h3", text(title)) + tag("ul", "".join(every))


def _waived(each: Covered) -> str:
    until = f"until {each.until}" if each.until else "without an end"
    said = f"{each.signal}: {each.message} [{each.rule}{_of(each.subject)}]"
    return f"{said}. Waived {until}: {each.reason} ({each.file}:{each.line})"


def _remark(each: Said) -> str:
    return f"{each.message} ({each.file}:{each.line})"


def _not_judged(items: tuple[NotJudged, ...]) -> Iterator[str]:
    """By what would let it be."""
    causes: dict[str, dict[str, None]] = {}
    for item in items:
        causes.setdefault(item.because, {})[item.rule] = None
    for because, rules in causes.items():
        yield f"Because {because}: {', '.join(rules)}"


EXPLORER = """<p class="soft">Set the controls; what every channel puts out is worked out here, in the page.
Ramps and delays have run out.</p>
<p><button type="button" id="still">All at rest</button> <button type="button" id="power">Switch on again</button>
<span id="said" role="status"></span></p>
<div class="controls" id="controls"></div>
<div class="wide" tabindex="0" role="region" aria-label="Outputs in this state"><table>
<caption>Outputs in this state</caption>
<thead><tr><th scope="col">Channel</th><th scope="col">Puts out</th><th scope="col">From -150 to +150</th>
<th scope="col">Decided by</th></tr></thead>
<tbody id="outputs"></tbody></table></div>
<p id="standing"></p>"""
