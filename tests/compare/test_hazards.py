"""A rule that was judged and is not any more is a hazard gained."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import setuplint
from setuplint.cli import main
from setuplint.comparison.changes import Comparison
from setuplint.findings import Finding

REFERENCE = (Path(__file__).parents[2] / "examples" / "reference.toml").read_text(encoding="utf-8")
NO_TRIM = REFERENCE.replace("trim = 0 ", "# ")


def compared(old: str, new: str) -> Comparison:
    return setuplint.compare(setuplint.load_text(old, "old.toml"), setuplint.load_text(new, "new.toml"))


def gaps(old: str, new: str) -> list[Finding]:
    return [finding for finding in compared(old, new).gained if "is not any more" in finding.message]


def test_what_is_judged_no_more_is_gained_with_the_signal_of_its_rule() -> None:
    (gap,) = gaps(REFERENCE, NO_TRIM)
    assert (gap.rule, gap.signal, gap.subject) == ("trim-lifts-motor", "danger", "motor")
    assert gap.message == "this was judged of motor before, and is not any more: sticks.throttle.trim is not given"
    assert gap.primary.path == ("sticks", "throttle")


@pytest.mark.parametrize(("old", "new"), [(NO_TRIM, REFERENCE), (NO_TRIM, NO_TRIM), (REFERENCE, REFERENCE)])
def test_what_was_not_judged_before_is_not(old: str, new: str) -> None:
    assert gaps(old, new) == []


def test_a_part_that_goes_by_another_name_was_not_judged_before() -> None:
    assert gaps(NO_TRIM, NO_TRIM.replace("[channels.motor]", "[channels.esc]").replace('"motor"\nv', '"esc"\nv')) == []


def test_of_a_part_that_is_new_nothing_was_judged_before() -> None:
    second = '[channels.second]\nnumber = 12\ndrives = "motor"\nfrom = "gain"\n'
    more = f"{REFERENCE}\n[sticks.gain]\nknob = true\n{second}"
    assert not any(gap.subject == "second" for gap in gaps(REFERENCE, more.replace("trim = 0 ", "# ")))


def test_the_gate_fails_and_every_format_says_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = tmp_path / "old.toml", tmp_path / "new.toml"
    old.write_text(REFERENCE)
    new.write_text(NO_TRIM)
    for form in ("text", "markdown", "json"):
        assert main(["compare", "--fail-on", "danger", "--format", form, str(old), str(new)]) == 1
        said = capsys.readouterr().out
        assert "this was judged of motor before" in said
        if form == "json":
            (comparison,) = json.loads(said)["comparisons"]
            assert [x["signal"] for x in comparison["gained"] if x["rule"] == "trim-lifts-motor"] == ["danger"]
        else:
            assert "1 danger, 1 caution gained" in said.replace("\n", " ")
    assert main(["compare", "--fail-on", "danger", str(new), str(new)]) == 0


HOLD = '[overrides.held]\nchannel = "motor"\nvalue = -100'


def test_a_hazard_of_both_that_is_not_the_same_fails_the_gate(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A hold that leaves the motor at 10 of 100 and one at 80 of 100 are the same rule of the same part."""
    assert HOLD in REFERENCE
    low, high = (REFERENCE.replace(HOLD, HOLD.replace("-100", value)) for value in ("-80", "60"))
    old, new = tmp_path / "old.toml", tmp_path / "new.toml"
    old.write_text(low)
    new.write_text(high)
    for form in ("text", "markdown", "json"):
        assert main(["compare", "--fail-on", "danger", "--format", form, str(old), str(new)]) == 1
        said = " ".join(capsys.readouterr().out.replace("\u00a0", " ").split())
        assert "held puts motor at +60 % (80 of 100)" in said
        assert "held puts motor at -80 % (10 of 100)" in said
        if form == "json":
            (comparison,) = json.loads(said)["comparisons"]
            assert (comparison["gained"], comparison["lost"]) == ([], [])
            assert {each["rule"] for each in comparison["changed"]} == {"hold-bypassed", "start-unguarded"}
            assert not any(each["hidden"] for each in comparison["changed"])
    assert "2 dangers changed" in str(compared(low, high))
    assert compared(low, low).changed == ()


def test_a_hazard_that_is_waived_or_known_is_told_and_fails_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    low, high = (REFERENCE.replace(HOLD, HOLD.replace("-100", value)) for value in ("-80", "60"))
    Path("craft.toml").write_text(low)
    assert main(["lint", "craft.toml", "--baseline", "known.jsonl", "--baseline-write", "grow"]) == 0
    Path("before.toml").write_text(low)
    Path("craft.toml").write_text(high)
    capsys.readouterr()
    command = ["compare", "--fail-on", "danger", "--baseline", "known.jsonl", "before.toml", "craft.toml"]
    assert main(command) == 0
    said = " ".join(capsys.readouterr().out.replace("\u00a0", " ").split())
    assert "before: Throttle hold does not stop the motor: override held puts motor at -80 %" in said
    assert "hidden: in the baseline" in said
    assert main(["lint", "craft.toml", "--baseline", "known.jsonl"]) == 0
    said = " ".join(capsys.readouterr().out.replace("\u00a0", " ").split())
    assert "hold-bypassed is in the baseline, and is another now: Throttle hold" in said
    assert "+60 % (80 of 100); in the baseline: Throttle hold" in said


LEVEL = "mode is idle-up and output attitude > 0 and sprung switches released"
CLAIM = REFERENCE[REFERENCE.index("[[claims]]") : REFERENCE.index("# [[waivers]]")]
UNLEVEL = "idle-up-1 = -100, idle-up-2 = 40 }"  # what the claim forbids, in the new setup


def claiming(*claims: str, false: bool = False) -> str:
    """The reference with other claims; `false`: and the craft levels itself in a part of its idle-up."""
    text = REFERENCE.replace("idle-up-1 = -100, idle-up-2 = -100 }", UNLEVEL) if false else REFERENCE
    return text.replace(CLAIM, "".join(f"[[claims]]\n{claim}\n" for claim in claims))


@pytest.mark.parametrize("false", [False, True])
def test_a_claim_that_is_gone_is_gained_and_whether_it_is_false_now(false: bool) -> None:
    (gap,) = compared(REFERENCE, claiming(false=false)).gained
    assert (gap.rule, gap.signal, gap.subject) == ("claim-broken", "caution", LEVEL)
    assert "and is not any more" in gap.message
    assert ("with attitude at +40 %" in gap.message) == bool(gap.witness) == false


WEAKER = f'never = "{LEVEL.replace("> 0", "> 45")}"'
PATIENT = f'never = "{LEVEL}"\npatience = 2'


@pytest.mark.parametrize("claim", [WEAKER, PATIENT])
def test_a_weaker_claim_is_a_hazard_where_what_it_was_is_false_now(claim: str) -> None:
    assert compared(REFERENCE, claiming(claim)).gained == ()
    (gap,) = compared(REFERENCE, claiming(claim, false=True)).gained
    assert gap.subject == LEVEL
    assert gap.message.endswith(": that was claimed before, and less is now") == (claim == WEAKER), "else lint says it"


def test_what_was_false_before_may_be_narrowed_and_not_taken_out() -> None:
    before = claiming(f'never = "{LEVEL}"', false=True)
    assert compared(before, claiming(WEAKER, false=True)).gained == (), "narrowing a false claim is its remedy"
    gone = compared(before, claiming(false=True))
    assert ([x.rule for x in gone.gained], gone.lost) == (["claim-broken"], ()), "taking it out is none"


@pytest.mark.parametrize(
    "claims",
    [
        ('never = "sprung switches released and (output attitude > 0 and mode is idle-up)"',),
        ('always = "not mode is idle-up or output attitude <= 0 or not sprung switches released"',),
        ('never = "mode is idle-up and output attitude > -5"',),
        ('never = "hold is on and output motor > 0"', f'never = "{LEVEL}"'),
        (
            f'never = "{LEVEL.replace("> 0", "> 45")}"',
            f'never = "{LEVEL.replace("> 0", "<= 45")} and output attitude > 0"',
        ),
    ],
)
def test_a_claim_that_says_as_much_in_other_words_is_none(claims: tuple[str, ...]) -> None:
    assert [each for each in compared(REFERENCE, claiming(*claims)).gained if LEVEL in each.message] == []


def test_a_claim_that_follows_a_new_name_is_none() -> None:
    assert compared(REFERENCE, REFERENCE.replace("attitude", "unit")).gained == ()


def test_a_condition_that_a_claim_names_and_that_is_another_now_is_told() -> None:
    zone = '[conditions.zone]\nwhen = "{}"\n[modes.normal]'
    claim = 'never = "zone and output attitude > 0 and sprung switches released"'
    old, new = (
        claiming(claim, false=now).replace("[modes.normal]", zone.format(when), 1)
        for when, now in (("mode is idle-up", False), ("flight is idle-up-1", True))
    )
    changes = [
        (x.subject.rpartition(": ")[2], x.before, x.now) for x in compared(old, new).changes if x.kind == "written"
    ]
    assert changes == [("condition zone", "mode is idle-up", "flight is idle-up-1")]
    same = old.replace('when = "mode is idle-up"', 'when = "not mode is normal"')
    assert compared(old, same).changes == (), "other words are no change"
