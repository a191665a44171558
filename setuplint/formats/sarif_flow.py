"""A finding's case as a SARIF code flow (3.36): each step with its control's place in the file, then the outputs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from setuplint.findings import Finding, Place, Report, Value
from setuplint.formats import case_text
from setuplint.formats.control_words import ControlWords
from setuplint.formats.numbers import decimal
from setuplint.formats.sarif_places import Object, location, message
from setuplint.formats.step_outputs import outputs_on_the_way

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
