"""Findings as JUnit XML, for CI that shows tests: a suite a setup, a case for each finding.

A finding at or above the threshold is a failure, one below it a case that passes and says what it is. What is waived, in a
baseline or not judged is skipped, with the reason; a setup without failures has a case that passes and says so. Files that
could not be looked at are errors, in a suite of the run's own. All of it is ASCII, without times: equal inputs give equal
bytes.
"""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.findings import SIGNALS, Finding, Report, shortened
from setuplint.formats.finding_text import finding_block
from setuplint.formats.reports import text
from setuplint.formats.summary import Summary, Tally, overflow, summary_of
from setuplint.formats.terminal import FIXED_SPACE, Look, plain
from setuplint.named_tuple import NamedTuple

between = ""
WIDE = Look(width=100)


class JUnitCase(NamedTuple):
    """`what` is failure, error, skipped, or empty for one that passes; `kind` and `message` are its attributes."""

    name: str
    what: str = ""
    kind: str = ""
    message: str = ""
    body: str = ""


def opening(look: Look) -> str:
    return '<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="setuplint">\n'


def section(report: Report, look: Look, fail_on: str = "caution") -> str:
    properties = {"edition": report.edition, "rules decided": report.rules, "states decided": report.states}
    tally = summary_of(report, fail_on).tally
    return _suite_xml(report.name, list(_cases(report, fail_on, tally)), properties | _tally_properties(tally))


def closing(summary: Summary, look: Look) -> str:
    cases = [JUnitCase(trouble, "error", "trouble", trouble) for trouble in summary.troubles]
    out = text.closing(summary, WIDE)
    return f"{_suite_xml('setuplint', cases, _tally_properties(summary.tally), out)}</testsuites>\n"


def _tally_properties(tally: Tally) -> dict[str, int]:
    """Found, not judged and not decided, and what is hidden."""
    found = {f"found: {signal}": tally.found[signal] for signal in SIGNALS}
    hidden = {f"hidden: {what}": count for what, count in tally.hidden.items()}
    return {**found, "not judged": tally.not_judged, "not decided": tally.not_decided, **hidden}


def _cases(report: Report, fail_on: str, tally: Tally) -> Iterator[JUnitCase]:
    grave = SIGNALS[: SIGNALS.index(fail_on) + 1]
    fails_all_the_same = report.is_open and not report.at_least(fail_on)
    if not (report.at_least(fail_on) or fails_all_the_same):
        limits = ", as far as a shared part can show" if report.texts.is_shared_file else ""
        limits += ", of what was judged" if tally.not_judged or tally.not_decided else ""
        yield JUnitCase(f"no {' or '.join(grave)}{limits}")
    explained: set[str] = set()
    for finding in shortened(report.findings).findings:
        body = finding_block(report, finding, WIDE, explained)
        name = _case_name(finding.rule, finding.subject)
        if finding.signal in grave or (fails_all_the_same and report.texts.is_unread):
            yield JUnitCase(name, "failure", finding.signal, finding.message, body)
        else:
            yield JUnitCase(name, body=body)
    for more in overflow(report):
        failure = ("failure", more.signal, more.words) if more.signal in grave else ()
        yield JUnitCase(more.words, *failure)
    for finding in report.waived:
        yield JUnitCase(
            _case_name(finding.rule, finding.subject), "skipped", "waived", _waiver_message(finding), finding.message
        )
    for finding in report.baselined:
        message = f"{finding.signal}, in the baseline"
        yield JUnitCase(_case_name(finding.rule, finding.subject), "skipped", "baseline", message, finding.message)
    dangers = report.open_dangers if fails_all_the_same else ()
    for note in report.not_judged:
        how = "failure" if note in dangers else "skipped"
        yield JUnitCase(_case_name(note.rule, note.subject), how, "not judged", f"not judged, because {note.because}")


def _case_name(rule: str, subject: str) -> str:
    return f"{rule}: {subject}" if subject else rule


def _waiver_message(finding: Finding) -> str:
    waiver = finding.waiver
    if waiver is None:
        return f"{finding.signal}, waived"
    until = f"until {waiver.until}" if waiver.until else "without an end"
    return f"{finding.signal}, waived {until}: {waiver.reason}"


def _suite_xml(name: str, cases: list[JUnitCase], properties: dict[str, int] | None = None, out: str = "") -> str:
    ends = [case.what for case in cases]
    attributes = _attributes(
        name=name,
        tests=len(cases),
        failures=ends.count("failure"),
        errors=ends.count("error"),
        skipped=ends.count("skipped"),
    )
    lines = [f"<testsuite{attributes}>"]
    if properties:
        lines.append("<properties>")
        lines += [f"<property{_attributes(name=key, value=value)}/>" for key, value in properties.items()]
        lines.append("</properties>")
    seen: dict[str, int] = {}
    for case in cases:
        seen[case.name] = seen.get(case.name, 0) + 1
        again = f" ({seen[case.name]})" if seen[case.name] > 1 else ""
        # no dots in the name of a class: viewers read them as packages
        lines.append(_case_xml(case._replace(name=case.name + again), name.removesuffix(".toml").replace(".", "_")))
    if out:
        lines.append(f"<system-out>{_xml_text(out)}</system-out>")
    return "\n".join([*lines, "</testsuite>", ""])


def _case_xml(case: JUnitCase, classname: str) -> str:
    inside = ""
    if case.what:
        attributes = _attributes(type=case.kind, message=case.message)
        body = f">{_xml_text(case.body)}</{case.what}>" if case.body else "/>"
        inside = f"<{case.what}{attributes}{body}"
    elif case.body:
        inside = f"<system-out>{_xml_text(case.body)}</system-out>"
    attributes = _attributes(classname=classname, name=case.name)
    return f"<testcase{attributes}>{inside}</testcase>" if inside else f"<testcase{attributes}/>"


def _attributes(**given: object) -> str:
    return "".join(f' {key}="{_xml_text(plain(str(value)))}"' for key, value in given.items())


def _xml_text(words: str) -> str:
    """Text in XML 1.0; characters that it does not allow, or that do not print, are escaped."""
    shown = "\n".join(plain(line.replace(FIXED_SPACE, " ")) for line in words.split("\n"))
    for char, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        shown = shown.replace(char, entity)
    return shown.encode("ascii", "xmlcharrefreplace").decode()
