"""The JSON output and its published schema."""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from setuplint.findings import NEWEST, Edit, Finding, Place, Remark
from setuplint.formats.passed_over import PassedOver
from setuplint.formats.report_schema import report_schema
from setuplint.formats.reports import json as form
from setuplint.formats.summary import BaselineFinding, Summary, summary_of
from setuplint.formats.terminal import Look
from setuplint.setup.model import Waiver
from tests.formats.made import HELD, NOT_JUDGED, SETUP, finding, report

SCHEMA = report_schema()


def written(*findings: Finding, **fields: Any) -> dict[str, Any]:
    one = report(*findings, **fields)
    text = form.opening(Look()) + form.section(one, Look()) + form.closing(summary_of(one), Look())
    value: dict[str, Any] = json.loads(text)
    return value


def strict(schema: Any) -> Any:
    """The schema with every object closed: the published one allows for keys to come, but none may go unmentioned."""
    if isinstance(schema, list):
        return [strict(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    closed = {key: strict(value) for key, value in schema.items()}
    return closed | {"additionalProperties": False} if "properties" in schema else closed


def test_schema_passes_its_metaschema() -> None:
    """JSON Schema 2020-12, from the package jsonschema-specifications."""
    Draft202012Validator.check_schema(SCHEMA)
    with pytest.raises(ValidationError):
        Draft202012Validator(SCHEMA).validate({"version": 2})


@pytest.mark.parametrize(
    "findings",
    [
        (),
        (finding(),),
        (finding(), finding(subject="b", edit=Edit(HELD, "100"), status="advice", steps=({}, {"throttle": 2.5}))),
        (finding(witness={"pack": Fraction("21.3"), "link": "lost"}, assumed=("x",), then="y"),),
    ],
    ids=["none", "one", "two", "odd values"],
)
def test_reports_keep_to_the_schema(findings: tuple[Finding, ...]) -> None:
    value = written(*findings, not_judged=NOT_JUDGED, waived=findings, states=9, rules=40)
    Draft202012Validator(strict(SCHEMA)).validate(value)


def test_keys_of_the_design_are_there_with_their_values() -> None:
    value = written(finding())["findings"][0]
    expected = {
        "rule": "hold-bypassed",
        "signal": "danger",
        "status": "proved",
        "setup": "wagtail.toml",
        "file": "wagtail.toml",
        "line": 25,
        "column": 12,
        "end-line": 25,
        "end-column": 14,
        "subject": "motor",
        "witness": {"hold": "on", "save": "pulled"},
        "steps": [],
        "outputs": {"motor": 55},
    }
    assert {key: value[key] for key in expected} == expected
    assert value["fingerprint"] == finding().fingerprint("wagtail.toml")
    assert value["related"] == [
        {
            "file": "wagtail.toml",
            "line": 20,
            "column": 12,
            "end-line": 20,
            "end-column": 14,
            "caption": "the hold ranks here",
        }
    ]


def test_outputs_are_numbers_with_every_digit() -> None:
    outputs = {"a": Fraction("33.333333"), "b": Fraction(-100), "c": Fraction("-94.999999")}
    assert written(finding(outputs=outputs))["findings"][0]["outputs"] == {"a": 33.333333, "b": -100, "c": -94.999999}


def test_keys_keep_their_order() -> None:
    value = written(finding(), not_judged=NOT_JUDGED)
    assert list(value) == list(SCHEMA["properties"])  # type: ignore[call-overload]
    assert list(value)[:3] == ["version", "findings", "not-judged"]
    assert list(value["findings"][0]) == list(SCHEMA["properties"]["findings"]["items"]["properties"])  # type: ignore[index]
    assert list(value["summary"]) == list(SCHEMA["properties"]["summary"]["properties"])  # type: ignore[index]


def test_nothing_in_it_can_drive_a_terminal() -> None:
    one = report(finding(message="\x1b[2J\u202e\x9b"), name="\x1b.toml")
    assert form.section(one, Look()).isascii()
    assert "\x1b" not in form.section(one, Look())


def test_summary_of_a_run_without_files() -> None:
    total = Summary(troubles=["no setup among the paths"], passed_over=[PassedOver("y.toml", "link-out")])
    value = json.loads(form.opening(Look()) + form.closing(total, Look()))
    Draft202012Validator(strict(SCHEMA)).validate(value)
    assert value["summary"]["passed-over"] == 1
    assert value["summary"]["troubles"]


def test_a_summary_counts_by_signal() -> None:
    value = written(finding(), finding(signal="notice"), finding(signal="notice"))["summary"]
    assert value["found"] == {"danger": 1, "caution": 0, "notice": 2}
    assert (value["failing"], value["below"]) == (1, 2)


def test_a_span_over_several_lines_ends_where_it_ends() -> None:
    text = "points = [\n  [0, 0],\n]\n"
    value = written(finding(primary=Place(("points",)), related=()), text=text)["findings"][0]
    assert [value[key] for key in ("line", "column", "end-line", "end-column")] == [1, 10, 3, 2]


def test_what_is_waived_or_in_the_baseline_is_there() -> None:
    until = Waiver("hold-idles", "an autorotation trainer", ("held",), date(2027, 4, 1), 0)
    endless = Waiver("mode-jump", "soft start", None, None, 1)
    text = f'{SETUP}[[waivers]]\nrule = "hold-idles"\n[[waivers]]\nrule = "mode-jump"\n'
    one = report(
        finding(rule="hold-slow", waiver=endless),
        text=text,
        waived=(finding(rule="hold-idles", waiver=until), finding(rule="mode-jump", signal="notice", waiver=endless)),
        baselined=(finding(), finding(rule="part-unused", signal="notice")),
        remarks=(Remark("ends-soon", "it ends", Place(("waivers", 0))),),
        pinned=True,
        config="setuplint.toml",
    )
    summary = summary_of(one)
    summary.gone.append(BaselineFinding("kestrel.toml", "hold-slow", "hold", "danger", "gone"))
    value = json.loads(form.opening(Look()) + form.section(one, Look()) + form.closing(summary, Look()))
    Draft202012Validator(strict(SCHEMA)).validate(value)
    assert [(x["rule"], x["line"], x["reason"], x["until"]) for x in value["waived"]] == [
        ("hold-idles", 26, "an autorotation trainer", "2027-04-01"),
        ("mode-jump", 28, "soft start", None),
    ]
    assert value["findings"][0]["waiver"] == {"reason": "soft start", "until": None}
    assert [x["message"] for x in value["remarks"]] == ["it ends"]
    assert [x["rule"] for x in value["baselined-dangers"]] == ["hold-bypassed"]
    assert [x["file"] for x in value["gone-from-baseline"]] == ["kestrel.toml"]
    assert value["summary"]["baselined"] == {"danger": 1, "caution": 0, "notice": 1}
    assert value["summary"]["rule-sets"] == [
        {"edition": NEWEST, "pinned": True, "config": "setuplint.toml", "files": 1}
    ]
