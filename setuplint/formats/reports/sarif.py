"""Findings in OASIS's SARIF 2.1.0, for hosts and viewers of results; section numbers are that standard's.

One run. Results are written as files are done; the rules, which are the same for all, come after them. All of it is
ASCII, without a time or a path of the machine, so equal inputs give equal bytes.

A rule that is not judged is a result of the kind `open` (3.27.9: evaluated, and not enough was known to decide), of level
`none`. What a waiver covers is suppressed in source, where the waiver stands, with its reason (3.35); what a baseline
holds is suppressed outside of it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from functools import cache

from setuplint.book import rulebook
from setuplint.book.rule_file import Page, Rule
from setuplint.findings import Finding, NotJudged, Place, Report, Value, Where, shortened
from setuplint.formats import case_text
from setuplint.formats.control_words import ControlWords
from setuplint.formats.finding_json import summary_values
from setuplint.formats.numbers import decimal, json_number
from setuplint.formats.patch import replacement
from setuplint.formats.rule_pages import rule_markdown, rule_text
from setuplint.formats.sarif_places import (
    BASE,
    Object,
    artifact_location,
    location,
    message,
    message_words,
    path_in_root,
    point_location,
    region,
)
from setuplint.formats.step_outputs import outputs_on_the_way
from setuplint.formats.summary import ADVICE, CAUTION, Summary, passed_over_lines
from setuplint.formats.terminal import Look, plain

MOST_READ = 8_000_000  # characters, for the fixes of one file: each reads the whole text again, a million in a fifth of a second
SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
FINGERPRINT = "setuplint/v1"
between = ",\n"


def opening(look: Look) -> str:
    return (
        f'{{\n"$schema": "{SCHEMA}",\n"version": "2.1.0",\n"runs": [{{\n"columnKind": "unicodeCodePoints",\n'
        f'"originalUriBaseIds": {json.dumps(_bases())},\n"results": [\n'
    )


def section(report: Report, look: Look, fail_on: str = "caution") -> str:
    return between.join(json.dumps(each) for each in results(report))


def closing(summary: Summary, look: Look) -> str:
    rules = between.join(map(json.dumps, descriptors(summary.clubs.values())))
    driver = json.dumps(_driver())[:-1]
    return (
        f'\n],\n"tool": {{"driver": {driver}, "rules": [\n{rules}\n]}}}},\n'
        f'"invocations": [{json.dumps(_invocation(summary))}],\n'
        f'"properties": {json.dumps({"summary": summary_values(summary)})}\n}}]\n}}\n'
    )


def results(report: Report) -> Iterator[Object]:
    """Findings in their order, then those that are waived, those in a baseline, and what was not judged."""
    for finding in shortened(report.findings).findings:
        yield _result(report, finding)
    for finding in shortened(report.waived).findings:
        yield _result(report, finding, suppressed=_suppression(report, finding))
    for finding in shortened(report.baselined).findings:
        yield _result(report, finding, suppressed={"kind": "external", "justification": "It is in the baseline."})
    for note in report.not_judged:
        yield _open_result(report, note)


def _result(report: Report, finding: Finding, suppressed: Object | None = None) -> Object:
    made: Object = {
        **_rule_reference(finding.rule),
        "kind": "fail",
        "level": LEVELS[finding.signal],
        "message": message(_message_text(report, finding)),
        "locations": [_primary_location(report, finding)],
        "partialFingerprints": {FINGERPRINT: finding.fingerprint(_path_in_root(report.name))},
        "suppressions": [suppressed | {"status": "accepted"}] if suppressed else [],
    }
    related = list(_related_locations(report, finding))
    if related:
        made["relatedLocations"] = related
    flow = code_flow(report, finding)
    if flow is not None:
        made["codeFlows"] = [flow]
    properties = {"signal": finding.signal, "status": finding.status, "subject": plain(finding.subject)}
    if finding.edit is not None and not _has_fixes(report):
        properties["fix"] = "left out: the text is too long to be read again for each of its fixes"
    elif (fix := _fix(report, finding)) is not None:
        made["fixes"] = [fix]
    if finding.estimate:
        properties["estimate"] = plain(finding.estimate)
    return made | {"properties": properties}


def _path_in_root(name: str) -> str:
    """The path from the root as text, so that a fingerprint does not depend on where the command runs."""
    path = path_in_root(name)
    return name if path is None else os.fsencode(path).decode(errors="backslashreplace")


def _open_result(report: Report, note: NotJudged) -> Object:
    about = f" of {note.subject}" if note.subject else ""
    return {
        **_rule_reference(note.rule),
        "kind": "open",
        "level": "none",
        "message": message(f"{note.rule}{about} was not judged, because {note.because}."),
        "locations": [location(report, Place(()))],
        "partialFingerprints": {FINGERPRINT: note.fingerprint(_path_in_root(report.name))},
        "suppressions": [],
        "properties": {"subject": plain(note.subject)},
    }


def _rule_reference(name: str) -> Object:
    """A reference to a rule by its index in the book. A club's rule is found by its id (3.52.3)."""
    number = rule_index().get(name)
    return {"ruleId": name} if number is None else {"ruleId": name, "ruleIndex": number}


def _message_text(report: Report, finding: Finding) -> str:
    """The message first, since some viewers show only that; then the case and what to do."""
    sentences = [_sentence(finding.message)]
    case = case_text.case_sentence(finding, report.values)
    if case:
        sentences.append(f"On the bench: {case}")
    if finding.status == "advice":
        sentences.append(f"Advice: {ADVICE}")
    if finding.estimate:
        sentences.append(f"Estimate: {_sentence(finding.estimate)}")
    if finding.remedy:
        sentences.append(f"Remedy: {_sentence(finding.remedy)}")
    return "\n\n".join(sentences)


def _sentence(text: str) -> str:
    words = " ".join(text.split())
    return words if words.endswith((".", "!", "?")) else f"{words}."


def _primary_location(report: Report, finding: Finding) -> Object:
    made = location(report, finding.primary, finding.primary.caption)
    if finding.subject:
        made["logicalLocations"] = [{"fullyQualifiedName": plain(finding.subject)}]
    return made


def _related_locations(report: Report, finding: Finding) -> Iterator[Object]:
    number = 0
    for number, place in enumerate(finding.related, start=1):
        yield location(report, place, place.caption, number)
    if report.where(finding.primary).name != report.name:
        own = Where(report.name, report.document, report.document.span(("extends",)))
        text = "the setup, which extends that file"
        physical = {"artifactLocation": artifact_location(own.name), "region": region(own)}
        yield {"id": number + 1, "physicalLocation": physical, "message": message(text)}


def _suppression(report: Report, finding: Finding) -> Object:
    """A suppression (3.35) by a waiver, at the waiver's place."""
    waiver = finding.waiver
    if waiver is None:
        return {"kind": "inSource"}
    made: Object = {
        "kind": "inSource",
        "justification": plain(waiver.reason),
        "location": location(report, Place(("waivers", waiver.index))),
    }
    return made | ({"properties": {"until": waiver.until.isoformat()}} if waiver.until else {})


def _has_fixes(report: Report) -> bool:
    """Whether the text is read again for each of its fixes."""
    return len(report.document.text) * sum(1 for x in report.findings if x.edit is not None) <= MOST_READ


def _fix(report: Report, finding: Finding) -> Object | None:
    """The finding's edit as a fix (3.55). A shared part is not changed from one of the setups that extend it."""
    if finding.edit is None or report.texts.is_shared(finding.edit.path):
        return None
    found = replacement(report.document, finding.edit)
    if found is None:
        return None
    span, text = found
    change = {
        "artifactLocation": artifact_location(report.name),
        "replacements": [
            {
                "deletedRegion": region(Where(report.name, report.document, span)),
                "insertedContent": {"text": text},
            }
        ],
    }
    says = "Proposed, and not yet tried on this file: `setuplint lint --fix` shows what it changes, if anything else."
    return {"description": message(says), "artifactChanges": [change]}


def _driver() -> Object:
    from setuplint import __version__

    return {
        "name": "setuplint",
        "version": __version__,
        "semanticVersion": __version__,
        "language": "en",
        "shortDescription": {"text": "A safety linter for the set-up of a radio-controlled helicopter."},
        "fullDescription": {"text": CAUTION},
    }


def _bases() -> Object:
    says = (
        "The root of the repository, or the folder in which setuplint was run. Its place on this machine is left out."
    )
    return {BASE: {"description": message(says)}}


def _invocation(summary: Summary) -> Object:
    """Whether everything could be looked at (3.20.14), notes on the run itself, and what it comes to."""
    made: Object = {
        "executionSuccessful": not summary.troubles,
        "exitCode": 2 if summary.troubles else 1 if summary.failing else 0,
        "toolExecutionNotifications": list(_notifications(summary)),
        "properties": summary.tally.values(),
    }
    configuration = list(_configuration(summary))
    return made | ({"toolConfigurationNotifications": configuration} if configuration else {})


def _notifications(summary: Summary) -> Iterator[Object]:
    for trouble in summary.troubles:
        yield {"level": "error", "message": message(_sentence(f"Not checked: {trouble}"))}
    for more in summary.overflow:
        yield {"level": "note", "message": message(f"{more.file}: {more.words}, which are not shown.")}
    title, items = passed_over_lines(summary)
    for line in [title, *items] if title else ():
        yield {"level": "note", "message": message(_sentence(line))}
    yield {"level": "note", "message": message(CAUTION)}


def _configuration(summary: Summary) -> Iterator[Object]:
    """Notes on waivers and on a baseline."""
    for remark in summary.remarks:
        where = [point_location(remark.file, remark.line, remark.column)]
        level = "warning" if remark.kind == "refused" else "note"
        yield {"level": level, "message": message(_sentence(remark.message)), "locations": where}
    for gone in summary.gone:
        text = (
            f"No longer found, and still in the baseline: {gone.rule} of {gone.subject or 'the setup'} in {gone.file}."
        )
        yield {"level": "note", "message": message(text)}


LEVELS = {"danger": "error", "caution": "warning", "notice": "note"}
HELP = Look(width=100)


@cache
def rule_index() -> dict[str, int]:
    """The place of each rule of the book in the list. A club's rules come after them, and are found by their names."""
    return {name: number for number, name in enumerate(rulebook.rules())}


def descriptors(clubs: Iterable[Rule] = ()) -> Iterator[Object]:
    """Every rule of the book, in the order of their names, then a club's own."""
    for name in rulebook.rules():
        yield descriptor(rulebook.page(name))
    for rule in sorted(clubs, key=lambda rule: rule.name):
        yield descriptor(Page(rule, (), ()))


def descriptor(page: Page) -> Object:
    rule = page.rule
    made: Object = {
        "id": rule.name,
        "name": "".join(word.capitalize() for word in rule.name.split("-")),
        "shortDescription": {"text": _one_line(rule.title)},
        "fullDescription": {"text": _one_line(rule.why)},
        "help": {
            "text": message_words(rule_text(page, HELP)),
            "markdown": rule_markdown(page).replace("{", "{{").replace("}", "}}"),
        },
        "defaultConfiguration": {"level": LEVELS[rule.signal]},
    }
    properties: Object = {"signal": rule.signal, "tags": ["safety", rule.signal, "claim" if rule.is_claim else "check"]}
    if rule.limits:
        properties["limits"] = {
            name: {"value": json_number(limit.value), "unit": plain(limit.unit), "basis": limit.basis}
            for name, limit in rule.limits.items()
        }
    return made | {"properties": properties}


def _one_line(text: str) -> str:
    return message_words(" ".join(text.split()))


TABLES = ("switches", "sensors", "knobs", "sticks")


def code_flow(report: Report, finding: Finding) -> Object | None:
    """The code flow; None where the finding has no case."""
    said = case_text.case_sentence(finding, report.values)
    if not said:
        return None
    places = [*_way_locations(report, finding), *_end_locations(report, finding)]
    for number, place in enumerate(places, start=1):
        place["executionOrder"] = number
    return {"message": message(f"On the bench: {said}"), "threadFlows": [{"locations": places}]}


def _way_locations(report: Report, finding: Finding) -> Iterator[Object]:
    """Each step from power-up; where the past does not matter, each control that does."""
    last = case_text.last_movement(finding)
    if finding.steps:
        told = case_text.case_steps(finding, report.values, outputs_on_the_way(report, finding))
        for step, moves in zip(told, [*finding.steps, *last], strict=True):
            yield _flow_location(
                report, finding, _control_place(report, finding, next(iter(moves), "")), step.text, moves
            )
        return
    controls = ControlWords(report.values, finding.pack)
    ordered = sorted(finding.witness.items(), key=lambda item: controls.moved(*item))
    for name, value in ordered:
        text = controls.move(name, value) if controls.moved(name, value) else f"with {controls.kept(name, value)}"
        yield _flow_location(report, finding, _control_place(report, finding, name), text, {name: value})
    if not ordered:
        yield _flow_location(report, finding, Place(("start",)), "with everything at rest", {})
    for moves in last:
        for name, value in moves.items():
            yield _flow_location(
                report, finding, _control_place(report, finding, name), controls.move(name, value), moves
            )
    if deed := case_text.last_deed(finding):
        yield _flow_location(report, finding, finding.primary, deed, {})


def _end_locations(report: Report, finding: Finding) -> Iterator[Object]:
    """The outputs in the end, each at its channel's table; where none is in question, the finding itself."""
    values = report.values
    for name in sorted(finding.outputs, key=lambda name: name not in finding.motors):
        output = finding.outputs[name]
        given = case_text.output_words(name, output, values, is_motor=name in finding.motors)
        place = Place(("channels", name)) if name in _table_of(values, "channels") else finding.primary
        yield _flow_location(report, finding, place, given, {name: f"{decimal(output)} %"}, importance="essential")
    if not finding.outputs:
        yield _flow_location(report, finding, finding.primary, finding.message, {}, importance="essential")


def _flow_location(
    report: Report, finding: Finding, place: Place, text: str, state: Mapping[str, Value], importance: str = "important"
) -> Object:
    """A threadFlowLocation (3.38). `state` has the controls and outputs that it is about."""
    made: Object = {"location": location(report, place, text), "importance": importance}
    if state:
        words = {
            name: value if isinstance(value, str) else decimal(value, case_text.DECIMALS)
            for name, value in state.items()
        }
        made["state"] = {name: message(value) for name, value in words.items()}
    return made


def _control_place(report: Report, finding: Finding, name: str) -> Place:
    """Where a control is declared. For a stick without a table, where a channel reads it; for power-up, the start check."""
    if not name:
        return Place(("start",))
    for table in TABLES:
        if name in _table_of(report.values, table):
            return Place((table, name))
    for channel, line in _table_of(report.values, "channels").items():
        if isinstance(line, Mapping) and line.get("from") == name:
            return Place(("channels", channel, "from"))
    return finding.primary


def _table_of(values: Mapping[str, object], name: str) -> Mapping[str, object]:
    table = values.get(name)
    return table if isinstance(table, Mapping) else {}
