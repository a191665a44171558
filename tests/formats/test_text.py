"""The text output: what a pilot reads."""

from __future__ import annotations

import re
from datetime import date
from fractions import Fraction
from itertools import pairwise

import pytest

from setuplint.findings import Place, Remark
from setuplint.formats.passed_over import PassedOver
from setuplint.formats.reports import text
from setuplint.formats.summary import CAUTION, BaselineFinding, Summary, summary_of
from setuplint.formats.terminal import Look
from setuplint.setup.model import Waiver
from setuplint.source import Span
from tests.formats.made import HELD, NOT_JUDGED, RESCUE, SETUP, finding, report

PLAIN = Look()
WHOLE = """\
wagtail.toml:25:12: danger: with hold on, rescue-power drives the motor at +55 % [hold-bypassed]
   16 | [overrides.held]
  ... |
   20 | priority = 10
      |            ^^ the hold ranks here
   21 | [overrides.rescue-power]
  ... |
   25 | priority = 50
      |            ^^ and the rescue above it
  On the bench: put hold on, pull save: the motor channel gives +55 %
                (77.5 of 100, 1775 µs).
  Why:          A pilot who carries the craft trusts the hold.
  Remedy:       Give held a priority above 50.

"""


def part(*findings: object, look: Look = PLAIN, **changed: object) -> str:
    return text.section(report(*findings, **changed), look)  # type: ignore[arg-type]


def said(printed: str) -> str:
    """What is printed as one line, since where it is wrapped does not matter."""
    return " ".join(printed.split())


def test_a_finding_as_a_pilot_reads_it() -> None:
    assert part(finding()) == WHOLE


def test_first_line_is_in_the_gnu_error_format() -> None:
    """GNU Coding Standards, section 4.4: sourcefile:lineno:column: message."""
    first = part(finding()).splitlines()[0]
    match = re.fullmatch(r"([^:]+):(\d+):(\d+): (danger|caution|notice): (.+) \[([a-z-]+)\]", first)
    assert match
    assert match.groups()[:4] == ("wagtail.toml", "25", "12", "danger")


def test_marks_stand_under_what_they_mark() -> None:
    lines = part(finding()).splitlines()
    for above, marked in pairwise(lines):
        if "^" in marked:
            start, end = marked.index("^"), marked.rindex("^") + 1
            assert above[start:end] in ("10", "50")


@pytest.mark.parametrize(
    ("line", "marked"),
    [
        ('note\t=\t"here"', '"here"'),
        ('"日本語" = "here"', '"here"'),
        ('"ｆｕｌｌ" = "here"', '"here"'),
        ('"e\u0301te\u0301" = "here"', '"here"'),
        ('"🚁" = "here"', '"here"'),
        ('"\u202eabc" = "here"', '"here"'),
        ('"\x9b2J" = "here"', '"here"'),
    ],
    ids=["tabs", "wide", "full width", "combining", "emoji", "right to left", "control sequence"],
)
def test_marks_hold_their_place_after_odd_characters(line: str, marked: str) -> None:
    """Cells are counted here as Unicode's East Asian Width says (UAX 11), apart from the code under test."""
    from unicodedata import combining, east_asian_width

    at = line.index(marked)
    printed = part(finding(primary=Place(span=Span(at, at + len(marked))), related=()), text=line + "\n").splitlines()
    shown, pointer = printed[1].split("| ", 1)[1], printed[2].split("| ", 1)[1]
    place = sum(0 if combining(c) else 2 if east_asian_width(c) in "WF" else 1 for c in shown[: shown.index(marked)])
    assert pointer == " " * place + "^" * len(marked)


def test_no_character_of_a_file_reaches_the_terminal_raw() -> None:
    evil = "\x1b]0;owned\x07\x9b2J\u202e\u2066\u200b\x7f\r\u2028"
    place = Place(("overrides", "held", "when"), caption=evil)
    printed = part(
        finding(
            primary=place,
            message=evil,
            why=evil,
            remedy=evil,
            assumed=(evil,),
            then=evil,
            outputs={evil: Fraction(1)},
            witness={evil: evil, "hold": evil, "pack": evil, "save": evil},
        ),
        finding(steps=({evil: evil}, {"save": evil})),
        name=f"a{evil}.toml",
        text=SETUP.replace('"hold is on"', f"'{evil[:3]}{evil[12:13]}'"),
        not_judged=NOT_JUDGED,
    )
    from unicodedata import category

    assert not [char for char in printed if category(char) in ("Cc", "Cf", "Zl", "Zp") and char != "\n"]


def test_long_line_is_shown_around_its_mark() -> None:
    line = f"x = [{', '.join(map(str, range(1000)))}]"
    at = line.index("500")
    printed = part(finding(primary=Place(span=Span(at, at + 3)), related=()), text=line).splitlines()
    assert all(len(row) <= 80 for row in printed[1:])
    start = printed[2].index("^^^")
    assert printed[1][start : start + 3] == "500"
    assert printed[1].split("| ")[1].startswith("...")
    assert printed[1].endswith("...")


def test_second_mark_far_along_a_long_line_is_named_by_its_column() -> None:
    line = f"x = [{', '.join(map(str, range(1000)))}]"
    places = [Place(span=Span(5, 6), caption="one"), Place(span=Span(len(line) - 1, len(line)), caption="other")]
    printed = part(finding(primary=places[0], related=(places[1],)), text=line)
    assert f"at column {len(line)}: other" in printed


def test_a_span_over_several_lines_is_marked_in_its_first() -> None:
    source = "points = [\n  [0, 0],\n]\n"
    printed = part(finding(primary=Place(span=Span(9, 22)), related=()), text=source).splitlines()
    assert printed[1].endswith("points = [")
    assert printed[2].endswith(" |          ^")


def test_an_empty_file_has_a_place_to_point_at() -> None:
    printed = part(finding(primary=Place(), related=()), text="").splitlines()
    assert printed[0].startswith("wagtail.toml:1:1: danger:")
    assert printed[2].strip() == "| ^"


def test_many_places_are_cut_short_and_counted() -> None:
    places = tuple(Place(span=Span(at, at + 1)) for at in range(0, 200, 10))
    assert "and 13 more" in part(finding(related=places))


@pytest.mark.parametrize("columns", [40, 60, 80, 120])
def test_nothing_but_the_first_line_is_wider_than_the_terminal(columns: int) -> None:
    look = Look(width=columns)
    steps = ({"hold": "on"}, {"save": "pulled", "hold": "off", "flight": "idle-up-1", "throttle": 20})
    one = finding(steps=steps, why="word " * 60)
    printed = text.section(report(one), look) + text.closing(summary_of(report(one, not_judged=NOT_JUDGED)), look)
    assert [row for row in printed.splitlines()[1:] if len(row) > columns] == []


def test_steps_from_power_up_are_a_table_with_both_scales() -> None:
    steps = ({"hold": "on"}, {"save": "pulled"}, {"save": "released", "hold": "off"})
    printed = part(finding(steps=steps, outputs={"motor": Fraction(45)})).splitlines()
    at = next(number for number, row in enumerate(printed) if "On the bench:" in row)
    assert said("\n".join(printed[at : at + 2])) == (
        "On the bench: after these 3 steps from power-up, the motor channel gives +45 % (72.5 of 100, 1725 µs)."
    )
    table = printed[at + 2 : at + 5]
    assert said(table[0]) == "1 switch on with hold on"
    assert said(table[1]) == "2 pull save"
    assert said(table[2]) == "3 let go of save, put hold off motor +45 % (72.5 of 100)"


@pytest.mark.parametrize(
    ("witness", "words"),
    [
        ({"hold": "on", "save": "pulled"}, "put hold on, pull save"),
        ({"hold": "off", "save": "pulled"}, "with hold off, pull save"),
        ({"flight": "idle-up-1"}, "put flight to idle-up-1"),
        ({"flight": "normal"}, "with flight at normal, and all else at rest"),
        ({"throttle": -100, "hold": "off"}, "with the throttle stick at the bottom and hold off, and all else at rest"),
        ({"throttle": 100}, "move the throttle stick to the top"),
        ({"throttle": 20.5}, "move the throttle stick to +20.5 %"),
        ({"aileron": -100}, "move the aileron stick to -100 %"),
        ({"gain-knob": 30}, "turn gain-knob to +30 %"),
        ({"pack": 19.8, "hold": "on"}, "with pack at 19.8 V (3.3 V a cell), put hold on"),
        ({"pack": "lost"}, "with pack lost, and all else at rest"),
        ({"pack": "unheard"}, "with pack not heard, and all else at rest"),
    ],
)
def test_witness_in_words(witness: dict[str, object], words: str) -> None:
    assert f"On the bench: {words}: the motor channel gives +55 %" in said(part(finding(witness=witness)))


def test_a_state_with_everything_at_rest_says_so() -> None:
    assert "On the bench: with everything at rest: the motor channel" in said(part(finding(witness={})))


def test_a_finding_without_a_witness_has_no_bench_line() -> None:
    assert "On the bench" not in part(finding(witness={}, outputs={}))


@pytest.mark.parametrize(
    ("output", "words"),
    [
        (Fraction(-100), "-100 % (0 of 100, 1000 µs)"),
        (Fraction(0), "0 % (50 of 100, 1500 µs)"),
        (Fraction("33.333333"), "+33.33 % (66.67 of 100, 1666.67 µs)"),
        (Fraction("-94.999999"), "just over -95 % (2.5 of 100, 1025 µs)"),
        (Fraction("-95.000001"), "just under -95 % (2.5 of 100, 1025 µs)"),
    ],
)
def test_motor_on_both_scales(output: Fraction, words: str) -> None:
    assert f"the motor channel gives {words}" in said(part(finding(outputs={"motor": output})))


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (-1e-7, "to just under 0 %"),
        (12.5000001, "to just over +12.5 %"),
        (12.345678, "to +12.345678 %"),
        (0, "to the middle"),
    ],
)
def test_a_stick_beside_a_number_is_not_said_to_be_at_it(place: float, words: str) -> None:
    assert f"move the throttle stick {words}:" in said(part(finding(witness={"throttle": place})))


def test_pulse_is_by_the_files_own_scale() -> None:
    scaled = SETUP.replace("motor-off = -95", "motor-off = -95\npulse = { centre = 1520, per-percent = 4 }")
    assert "77.5 of 100, 1740 µs" in said(part(finding(), text=scaled))


@pytest.mark.parametrize("pulse", ["1e999999999", "nan", "-5", '"x"', "true"])
def test_an_odd_pulse_is_left_aside(pulse: str) -> None:
    odd = SETUP.replace("motor-off = -95", f"pulse = {{ centre = {pulse}, per-percent = {pulse} }}")
    assert "77.5 of 100, 1775 µs" in said(part(finding(), text=odd))


def test_other_channels_are_in_percent_and_come_after_the_motor() -> None:
    printed = said(part(finding(outputs={"attitude": Fraction(-100), "motor": Fraction(55)})))
    assert "the motor channel gives +55 % (77.5 of 100, 1775 µs), the attitude channel gives -100 %." in printed


def test_what_is_assumed_and_what_happens_next_are_told() -> None:
    printed = said(part(finding(assumed=("held wins the tie",), then="Then it turns for 2 s.")))
    assert "Then it turns for 2 s. Taking it that held wins the tie." in printed


def test_advice_is_told_from_proof() -> None:
    assert "not a proof" in part(finding(status="advice"))
    assert "not a proof" not in part(finding())


def test_why_and_remedy_are_told_once_a_file() -> None:
    printed = part(finding(), finding(subject="other"))
    assert printed.count("trusts the hold") == 1
    assert printed.count("wagtail.toml:25:12") == 2


def test_colour_goes_by_the_signal_word_and_only_where_it_is_asked_for() -> None:
    codes = {
        signal: re.findall(r"\x1b\[[\d;]+m", part(finding(signal=signal), look=Look(colour=True)))[0]
        for signal in ("danger", "caution", "notice")
    }
    assert len(set(codes.values())) == 3
    assert "\x1b" not in part(finding())
    plain = re.sub(r"\x1b\[[\d;]*m", "", part(finding(), look=Look(colour=True)))
    assert plain == WHOLE


def test_summary_counts_what_was_found_decided_waived_and_left_open() -> None:
    one = report(
        finding(),
        finding(signal="notice"),
        waived=(finding(rule="hold-idles"),),
        not_judged=NOT_JUDGED,
        states=1296,
        rules=41,
    )
    printed = said(text.closing(summary_of(one), Look()))
    assert (
        "1 setup: 1 danger, 1 notice, 3 not judged; hidden: 1 waived. 1 is below caution, the least that fails."
        in printed
    )
    assert "Decided: 41 rules, over 1,296 states of the controls." in printed
    assert "Waived: 1 (hold-idles 1)." in printed
    assert "rescue-too-weak, rescue-incomplete: because craft.hover-throttle is not given" in printed
    assert "rescue-not-level: because intent.level is not given" in printed
    assert CAUTION in printed


def test_summary_has_every_waiver_the_gravest_first_and_the_dangers_of_the_baseline() -> None:
    until = Waiver("hold-idles", "for practising", ("held",), date(2027, 4, 1), 0)
    endless = Waiver("mode-jump", "soft start", None, None, 1)
    one = report(
        text=f'{SETUP}[[waivers]]\nrule = "hold-idles"\n[[waivers]]\nrule = "mode-jump"\n',
        waived=(finding(rule="mode-jump", signal="notice", waiver=endless), finding(rule="hold-idles", waiver=until)),
        baselined=(finding(), finding(rule="part-unused", signal="notice")),
        remarks=(Remark("ends-soon", "it ends", Place(("waivers", 0))),),
        config="club/setuplint.toml",
    )
    total = summary_of(one)
    total.gone = [BaselineFinding("kestrel.toml", "hold-slow", "hold", "danger", "x") for _ in range(30)]
    printed = said(text.closing(total, Look()))
    assert "1 setup: nothing found; hidden: 2 waived, 2 in the baseline." in printed
    assert "edition 2026, by club/setuplint.toml, which names none: the newest." in printed
    first = "wagtail.toml:26:1: danger hold-idles of motor, until 2027-04-01: for practising"
    second = "wagtail.toml:28:1: notice mode-jump of motor, without an end: soft start"
    assert f"Waived: 2 (hold-idles 1, mode-jump 1). {first} {second}" in printed
    assert "wagtail.toml:26:1: it ends." in printed
    assert "In the baseline: 1 danger, 1 notice. wagtail.toml: with hold on, rescue-power drives" in printed
    assert "No longer found, and still in the baseline: 30. kestrel.toml: hold-slow of hold" in printed
    assert printed.count("kestrel.toml") == 20
    assert "... and 10 more" in printed


def test_an_audit_says_so_and_counts_what_is_waived() -> None:
    one = report(finding(waiver=Waiver("hold-bypassed", "a reason", None, date(2027, 4, 1), 0)), finding(subject="b"))
    total = summary_of(one)
    total.audit = True
    assert "Waivers hide nothing here: 1 finding is waived." in said(text.closing(total, Look()))
    assert "Waived: until 2027-04-01: a reason" in said(text.section(one, Look()))


def test_findings_fail_by_the_threshold_of_their_own_file() -> None:
    total = Summary("caution")
    total.add(summary_of(report(finding(signal="notice")), "danger"))
    total.add(Summary("caution", passed_over=[PassedOver("x.toml", "not-a-setup")]))
    assert (total.fail_on, total.mixed, total.status) == ("danger", False, 0)
    total.add(summary_of(report(finding(signal="caution")), "notice"))
    assert (total.fail_on, total.mixed, total.failing, total.below, total.status) == ("notice", True, 1, 1, 1)
    assert "1 is below the least that fails." in said(text.closing(total, Look()))


def test_a_clean_summary_is_no_clearance() -> None:
    printed = said(text.closing(summary_of(report(states=8, rules=40)), Look()))
    assert printed.startswith("1 setup: nothing found. Decided: 40 rules")
    assert "not a clearance to fly" in printed


def test_summary_of_several_files_adds_up() -> None:
    total = Summary()
    for name in ("a.toml", "b.toml"):
        total.add(summary_of(report(finding(), name=name, not_judged=NOT_JUDGED, states=10, rules=7)))
    total.passed_over = [*(PassedOver(f"{n}.toml", "not-a-setup") for n in range(2)), PassedOver("y.toml", "link-out")]
    total.troubles.append("cannot read x.toml: Permission denied")
    printed = said(text.closing(total, Look()))
    assert "2 setups: 2 dangers, 6 not judged." in printed
    assert "up to 7 rules each, over 20 states" in printed
    assert "intent.level is not given (2 setups)" in printed
    assert "Not checked: cannot read x.toml: Permission denied." in printed
    assert "Passed over: 2 other TOML files, not setups; 1 link out of the folder." in printed


@pytest.mark.parametrize(
    ("signals", "fail_on", "status"),
    [
        ((), "caution", 0),
        (("notice",), "caution", 0),
        (("notice",), "notice", 1),
        (("caution",), "caution", 1),
        (("caution",), "danger", 0),
        (("danger", "notice"), "danger", 1),
    ],
)
def test_exit_status_by_threshold(signals: tuple[str, ...], fail_on: str, status: int) -> None:
    assert summary_of(report(*(finding(signal=signal) for signal in signals)), fail_on).status == status


def test_what_could_not_be_read_fails_the_run_whatever_else_is_clean() -> None:
    total = summary_of(report())
    total.troubles.append("cannot read x.toml: Permission denied")
    assert total.status == 2
    assert Summary().status == 2, "nothing was linted"
    assert text.closing(Summary(), Look()).startswith("0 setups: nothing was checked.")


def test_places_given_by_path_are_the_ones_of_the_text() -> None:
    rows = part(finding(primary=Place(HELD, key=True), related=(Place(RESCUE[:2]),))).splitlines()
    assert rows[0].startswith("wagtail.toml:20:1:")
    assert any("^^^^^^^^" in row and "^" * 9 not in row for row in rows)


def test_under_a_marked_heading_stand_the_first_lines_of_its_table() -> None:
    rows = part(finding(primary=Place(RESCUE[:2]), related=())).splitlines()
    assert [row.split(" | ")[1] for row in rows[1:7] if "^" not in row] == SETUP.splitlines()[20:25]
    long = SETUP + "\n[channels.motor]\n" + "\n".join(f"# {n}" if n == 2 else f"key-{n} = 1" for n in range(9)) + "\n"
    rows = part(finding(primary=Place(("channels", "motor")), related=()), text=long).splitlines()
    assert [row for row in rows if "key-" in row] == ["   28 | key-0 = 1", "   29 | key-1 = 1"]


def test_an_estimate_stands_before_the_why_and_may_drive_no_terminal() -> None:
    rows = part(finding(estimate="About 7 m are lost.\x1b[2J")).splitlines()
    (at,) = (n for n, row in enumerate(rows) if "Estimate:" in row)
    assert rows[at].split(":  ")[-1].strip().startswith("About 7 m are lost.")
    assert "\x1b" not in rows[at]
    assert rows[at + 1].startswith("  Why:")
    assert not any("Estimate:" in row for row in part(finding()).splitlines())
