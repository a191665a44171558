"""Constant conditions, unused parts and broken claims: what is said, once a cause, and what cannot be said."""

from __future__ import annotations

from typing import Any

import pytest

import setuplint
from tests.checks.linted import TEXT, linted, said

STANDING = ("condition-constant", "override-stuck", "override-shadowed", "value-out-of-range")
BOTH = {"when": "flight is normal and flight is idle-up-1"}


def test_what_follows_from_a_constant_condition_is_told_with_it() -> None:
    edit = {
        "conditions.both": BOTH,
        "conditions.worse": {"when": "both and hold is on"},
        "conditions.worst": {"when": "worse", "after": 2},
        "overrides.late": {"channel": "roll", "value": 0, "when": "worst"},
        "overrides.early": {"channel": "tail-gain", "value": 0, "when": "not worse"},
    }
    (finding,) = linted(edit, only=STANDING).findings
    assert (finding.rule, finding.subject) == ("condition-constant", "both")
    assert (
        finding.message == "condition both never holds: it never changes, and for that reason neither do worse, worst"
    )
    assert [place.path for place in finding.related] == [("conditions", n, "when") for n in ("worse", "worst")]


def test_a_mode_behind_a_constant_condition_is_not_said_again() -> None:
    edit = {
        "conditions.both": BOTH,
        "conditions.worse": {"when": "both and hold is on"},
        "modes.idle-up.when": "worse",
        "modes.last": {"idle-up": True, "voice": "last"},
    }
    assert [(x.rule, x.subject) for x in linted(edit, only=["condition-constant", "mode-unreachable"]).findings] == [
        ("condition-constant", "both")
    ]
    edit["modes.idle-up.when"] = "flight is normal and flight is idle-up-1"
    assert "idle-up" in {x.subject for x in linted(edit, only=["mode-unreachable"]).findings}


def test_a_condition_that_is_constant_by_itself_is_a_cause_of_its_own() -> None:
    """Whatever the one that it stands on; what stands on both follows from the first."""
    own = {"conditions.worse": {"when": "both and hold is on and hold is off"}}
    edit = {"conditions.both": BOTH, **own, "conditions.worst": {"when": "worse and both"}}
    edit["overrides.late"] = {"channel": "roll", "value": 0, "when": "worse"}
    found = linted(edit, only=STANDING).findings
    assert [(x.subject, "neither does worst" in x.message) for x in found] == [("both", False), ("worse", True)]
    beyond = {"conditions.both": {"when": "throttle > 120"}, **own}
    found = linted(beyond, only=STANDING).findings
    assert [(x.rule, x.subject) for x in found] == [
        ("value-out-of-range", "conditions.both.when: throttle 120"), ("condition-constant", "worse"),
    ]  # fmt: skip


def test_an_override_that_is_always_active_leaves_others_what_is_theirs() -> None:
    always = {"channel": "tail-gain", "value": 30, "when": "rates is soft or rates is full"}
    above = {"overrides.b": {"channel": "tail-gain", "value": 50, "when": "rates is full", "priority": 5}}
    limit = {"channel": "tail-gain", "at-most": 30, "when": always["when"]}
    told = [
        said("override-stuck", {"overrides.a": a, **b})[0].message
        for a, b in ((always, {}), (always, above), (limit, {}))
    ]
    assert [words.split("always active: ")[1] for words in told] == [
        "it decides channel tail-gain everywhere",
        "it decides channel tail-gain wherever no other override wins",
        "it limits channel tail-gain everywhere",
    ]


def test_a_condition_that_always_holds() -> None:
    edit = {"conditions.any": {"when": "rates is soft or rates is full"}, "timers.flight.runs": "any"}
    (finding,) = said("condition-constant", edit)
    assert finding.message == "condition any always holds: it never changes"
    assert finding.primary.path == ("conditions", "any", "when")


def test_why_a_latch_is_never_on() -> None:
    beaten = {"conditions.z": {"when": "hold is on and save is pulled", "until": "hold is on"}}
    (finding,) = said("condition-constant", beaten)
    assert "because its `until` holds whenever its `when` does" in finding.message
    (finding,) = said("condition-constant", {"conditions.z": {**BOTH, "until": "hold is on"}})
    assert "because nothing sets it" in finding.message


def test_a_toggle_and_a_latch_that_power_up_sets_change() -> None:
    edit = {
        "conditions.flip": {"when": "save is pulled", "toggles": True},
        "conditions.started": {"when": "hold is on", "until": "save is pulled"},
    }
    assert said("condition-constant", edit) == []


def test_a_number_out_of_range_has_said_it() -> None:
    edit = {
        "conditions.z": {"when": "throttle > 101"},
        "conditions.y": {"when": "z and hold is on"},
        "overrides.q": {"channel": "roll", "value": 1, "when": "y"},
        "overrides.r": {"channel": "roll", "value": 2, "when": "throttle > 102", "priority": 9},
    }
    assert {finding.rule for finding in linted(edit, only=STANDING).findings} == {"value-out-of-range"}


def test_a_condition_that_cannot_be_read_is_not_judged() -> None:
    edit = {"conditions.pack-low.when": "pack << 21.6", "conditions.held": {"when": "hold is on"}}
    report = linted(edit, only=["condition-constant"])
    assert report.findings == ()
    assert [(note.subject, note.because) for note in report.not_judged] == [
        ("pack-low", "conditions.pack-low cannot be read")
    ]


def test_parts_that_nothing_uses_are_pointed_at_by_their_names() -> None:
    report = linted(
        {"curves.old": {"points": [[-100, 0], [100, 0]]}, "sensors.esc": {"reads": "temperature"}},
        only=["part-unused"],
    )
    said_of = {
        finding.subject: report.document.text[slice(*report.where(finding.primary).span)] for finding in report.findings
    }
    assert said_of == {"old": "old", "esc": "esc"}


def test_one_use_in_a_part_that_cannot_be_read_may_be_the_only_one() -> None:
    text = TEXT.replace("[overrides.rescue-level]", '[conditions.spare]\nwhen = "hold is on"\n[overrides.rescue-level]')
    assert [x.rule for x in setuplint.lint_text(text).findings] == ["part-unused"]
    report = setuplint.lint_text(text.replace('when = "hold is on"\npriority', 'when = "hold is\npriority'))
    assert "part-unused" not in {finding.rule for finding in report.findings}
    (note,) = [note for note in report.not_judged if note.rule == "part-unused"]
    assert note.subject == "spare"
    assert "overrides.held" in note.because


def test_a_broken_claim_says_what_decides_its_outputs() -> None:
    (finding,) = said("claim-broken", {"claims.0.never": "mode is idle-up  and output attitude > 0"})
    assert finding.subject == "mode is idle-up and output attitude > 0"
    assert finding.message == (
        "“mode is idle-up and output attitude > 0” must never be so, and there is a state in which it is, with attitude "
        "at +100 % (aerobatics are flown without self-levelling)"
    )
    assert dict(finding.witness) == {"flight": "idle-up-1", "save": "pulled"}
    assert [place.path for place in finding.related] == [("overrides", "rescue-level")]
    assert dict(finding.outputs) == {"attitude": 100}


def test_an_always_is_quoted_as_it_is_written() -> None:
    edit = {"claims.1": {"always": "output motor > -100 or (hold is on)"}}
    (finding,) = said("claim-broken", edit)
    assert finding.subject == "not (output motor > -100 or (hold is on))"
    assert finding.message.startswith(
        "“output motor > -100 or (hold is on)” must always be so, and there is a state in "
    )
    assert finding.message.endswith("in which it is not, with motor at -100 % (0 of 100)")
    assert finding.primary.path == ("claims", 1, "always")


def test_a_claim_that_cannot_be_read_is_not_judged() -> None:
    report = linted({"claims.0.never": "mode is idle-up and and"}, only=["claim-broken"])
    assert report.findings == ()
    assert [note.because for note in report.not_judged] == ["claims[0].never cannot be read"]


@pytest.mark.parametrize(
    ("edit", "subject", "because"),
    [
        ({"claims.1": {"always": 5}}, "claims[1]", "claims[1].always cannot be read"),
        ({"claims.1": 5}, "claims[1]", "claims[1] cannot be read"),
        ({"claim": [{"never": "hold is on"}]}, "", "claims cannot be read"),
    ],
)
def test_a_claim_that_cannot_be_read_is_told_beside_one_that_is_broken(
    edit: dict[str, Any], subject: str, because: str
) -> None:
    report = linted({"claims.0": {"never": "output attitude > 0"}, **edit}, only=["claim-broken"])
    assert [finding.subject for finding in report.findings] == ["output attitude > 0"]
    assert [(note.subject, note.because) for note in report.not_judged] == [(subject, because)]


def test_terms_under_a_name_like_mix_may_be_more_of_them() -> None:
    mix = {
        "channels.motor.mix": [{"from": "rudder", "rate": 1}],
        "channels.motor.mixx": [{"from": "elevator", "rate": 90}],
    }
    report = linted(mix, only=["hold-bypassed"])
    assert [note.because for note in report.not_judged] == ["channels.motor cannot be read"]


LINGERS = {"conditions.was-normal": {"when": "flight is normal", "stays": 3}}


def test_a_claim_is_about_every_moment_that_lasts_longer_than_its_patience() -> None:
    for patience, speaks in (({}, True), ({"patience": 2.9}, True), ({"patience": 3}, False), ({"patience": 0}, True)):
        claim = {"claims.1": {"never": "was-normal and not flight is normal", **patience}}
        assert bool(said("claim-broken", LINGERS | claim)) == speaks
    (finding,) = said("claim-broken", LINGERS | {"claims.1": {"never": "was-normal and mode is idle-up"}})
    assert finding.message.endswith(", for 3 s, while condition was-normal stays on")
    assert finding.timing is not None


def test_a_patience_that_cannot_be_read_leaves_the_claim_open() -> None:
    edit = LINGERS | {"claims.1": {"never": "was-normal and mode is idle-up", "patience": -1}}
    report = linted(edit, only=["claim-broken"])
    assert [note.because for note in report.not_judged] == ["claims[1].patience cannot be read"]


def test_the_summary_says_where_a_claim_is_about_a_channel_that_takes_its_time() -> None:
    """In idle-up the motor ramps up in 2 s from end to end."""
    for patience, said_so in ((0.5, 1), (2, 0)):
        report = linted({"claims.1": {"never": "hold is on and output motor > -100", "patience": patience}})
        assert [remark.kind for remark in report.remarks] == ["ramps"] * said_so
    assert linted().remarks == ()
