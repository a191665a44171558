"""A setup cut in two, one file extending the other, is judged as the whole one is, and each place is in the right file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import pytest
import tomli_w

import setuplint
from setuplint.findings import Finding, Report
from setuplint.setup.file_sources import TextsByName
from setuplint.setup.texts import MAY_BE_SHARED

EXAMPLES = Path(__file__).parents[1] / "examples"
NAME = "craft/wagtail.toml"
WHOLE = [path.relative_to(EXAMPLES).as_posix() for path in sorted(EXAMPLES.rglob("*.toml"))
         if "extends" not in path.read_text(encoding="utf-8") and path.name != "club-radio.toml"]  # fmt: skip


def cut(whole: Mapping[str, Any], rng: Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """The first parts of each kind that can be shared go to a file of their own."""
    own, shared = dict(whole), dict[str, Any]()
    for kind in MAY_BE_SHARED:
        names = list(whole.get(kind, {}))
        goes = names[: rng.randint(0, len(names))]  # shared ones come first, and order picks the case that is shown
        if goes:
            shared[kind] = {name: whole[kind][name] for name in goes}
            own[kind] = {name: part for name, part in whole[kind].items() if name not in goes}
    return own, shared


def spoken(report: Report) -> list[tuple[object, ...]]:
    """All that is said, and the text that each place points at."""
    return sorted(map(repr, (said(report, finding) for finding in (*report.findings, *report.waived))))  # type: ignore[arg-type]


def said(report: Report, finding: Finding) -> tuple[object, ...]:
    places = []
    for place in (finding.primary, *finding.related):
        where = report.where(place)
        places.append((place.path, place.caption, where.document.text[slice(*where.span)]))
    case = (finding.witness, finding.steps, finding.outputs, finding.assumed, finding.then)
    return (
        finding.rule,
        finding.subject,
        finding.message,
        case,
        places,
        finding.edit,
        finding.fingerprint(report.name),
    )


@pytest.mark.quick(3)
@pytest.mark.parametrize("name", WHOLE)
def test_an_example_in_two_files_says_the_same(name: str) -> None:
    whole: dict[str, Any] = tomllib.loads((EXAMPLES / name).read_text(encoding="utf-8"), parse_float=Decimal)
    own, shared = cut(whole, Random(name))
    text, half, radio = (tomli_w.dumps(each) for each in (whole, {"extends": "../radio.toml", **own}, shared))
    one = setuplint.lint_text(text, NAME)
    two = setuplint.lint_text(half, NAME, beside=TextsByName({NAME: half, "radio.toml": radio}, NAME))
    assert spoken(two) == spoken(one)
    assert (two.not_judged, two.states, two.rules) == (one.not_judged, one.states, one.rules)
    for finding in two.findings:
        for place in (finding.primary, *finding.related):
            there = shared.get(str(place.path[0]), {}) if place.path else {}
            expected = "radio.toml" if len(place.path) > 1 and place.path[1] in there else NAME
            assert two.where(place).name == expected, place


def test_some_findings_of_the_examples_lie_in_the_shared_file() -> None:
    """Else the test above would show little."""
    text = (EXAMPLES / "reference.toml").read_text(encoding="utf-8").replace('voice = "idle up"', "")
    own, shared = ("".join(lines) for lines in halves(text))
    report = setuplint.lint_text(own, NAME, beside=TextsByName({NAME: own, "radio.toml": shared}, NAME))
    (finding,) = report.findings
    where = report.where(finding.primary)
    assert (finding.rule, where.name) == ("mode-unannounced", "radio.toml")
    assert where.document.text[slice(*where.span)] == "[modes.idle-up]"


def halves(text: str) -> tuple[list[str], list[str]]:
    own, shared = ['extends = "../radio.toml"\n'], list[str]()
    into = own
    for line in text.splitlines(keepends=True):
        if line.startswith("["):
            into = shared if line.strip("[").split(".")[0] in MAY_BE_SHARED else own
        into.append(line)
    return own, shared


def test_waivers_see_through_it() -> None:
    text = (EXAMPLES / "reference.toml").read_text(encoding="utf-8").replace('voice = "idle up"', "")
    own, shared = ("".join(lines) for lines in halves(text))
    own += '[[waivers]]\nrule = "mode-unannounced"\non = ["idle-up"]\nreason = "heard"\n'
    report = setuplint.lint_text(own, NAME, beside=TextsByName({NAME: own, "radio.toml": shared}, NAME))
    assert ([f.rule for f in report.waived], report.findings) == (["mode-unannounced"], ())


def test_a_sensor_that_only_another_craft_uses_is_not_unused() -> None:
    text = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    spare = '[sensors.spare]\nreads = "temperature"\n'
    own, shared = ("".join(lines) for lines in halves(text))

    def rules(own: str, shared: str) -> list[str]:
        beside = TextsByName({NAME: own, "radio.toml": shared}, NAME)
        return [finding.rule for finding in setuplint.lint_text(own, NAME, beside=beside).findings]

    assert rules(own + spare, shared) == ["part-unused"]
    assert rules(own, shared + spare) == []


def test_setups_of_one_radio_are_compared_through_it() -> None:
    text = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    own, shared = ("".join(lines) for lines in halves(text))
    other = text.replace("save", "bail")
    reports = setuplint.lint_together({"craft/a.toml": own, "craft/b.toml": own, "c.toml": other, "radio.toml": shared})
    assert [report.findings for report in reports[:2]] == [(), ()]
    assert [finding.rule for finding in reports[2].findings] == ["rescue-elsewhere"]
    assert reports[3].texts.is_shared_file
    assert reports[3].findings == ()


def test_rules_are_asked_though_a_shared_part_is_in_another_format() -> None:
    text = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    own, shared = ("".join(lines) for lines in halves(text))
    report = setuplint.lint_text(
        own, NAME, beside=TextsByName({NAME: own, "radio.toml": f"format = 2\n{shared}"}, NAME)
    )
    assert [(f.rule, report.where(f.primary).name) for f in report.findings] == [("not-a-setup", "radio.toml")]
    assert (report.rules > 0, len(report.not_judged) > 0) == (True, True)


def test_what_is_no_toml_in_a_shared_part_is_told_there_and_after_what_is_wrong_in_the_setup() -> None:
    text = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    own, shared = ("".join(lines) for lines in halves(text))
    own = own.replace("priority = 100", "priority = 10")
    shared = f"[knobs.x]\nplace = \n{shared}"
    report = setuplint.lint_text(own, NAME, beside=TextsByName({NAME: own, "radio.toml": shared}, NAME))
    places = [(finding.rule, report.where(finding.primary)) for finding in report.findings]
    assert [(rule, where.name) for rule, where in places] == [("hold-bypassed", NAME), ("not-toml", "radio.toml")]
    assert places[1][1].start == (2, 7)
    assert report.findings[1].subject == "line 2 of radio.toml"
