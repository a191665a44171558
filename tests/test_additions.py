"""What is added to the product is added in one place: each of these is made in a copy, and the files that had to change are
counted. `rules/README.md` is made by a command, and is not one of them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import numpy
import pytest
from scipy.interpolate import Akima1DInterpolator

from tests.new_rule import ROOT, lay_out


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The product by itself, in a folder of its own, with what Python compiled of it."""
    for name in ("setuplint", "rules", "examples"):
        shutil.copytree(ROOT / name, tmp_path / name)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def contents(root: Path) -> dict[str, bytes]:
    files = (path for path in root.rglob("*") if path.is_file() and path.suffix != ".pyc")
    return {str(path.relative_to(root)): path.read_bytes() for path in files}


def changed(before: dict[str, bytes], root: Path) -> list[str]:
    now = contents(root)
    return sorted(name for name in before.keys() | now.keys() if before.get(name) != now.get(name))


def run(root: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "setuplint", *words], cwd=root, env={"PYTHONPATH": str(root), "PATH": ""},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(("module", "count"), [("", 1), ("overrides", 2)])
def test_a_rule(module: str, count: int, copy: Path) -> None:
    before = contents(copy)
    lay_out("hold-outranked", module, copy)
    assert len(changed(before, copy)) == count
    assert "hold-outranked" in run(copy, "explain").stdout
    text = (copy / "examples" / "reference.toml").read_text(encoding="utf-8")
    (copy / "broken.toml").write_text(text.replace("priority = 100", "priority = 10"), encoding="utf-8")
    assert "[hold-outranked]" in run(copy, "lint", "broken.toml", "--fail-on", "notice").stdout


def test_a_rule_that_is_there_is_not_written_over(copy: Path) -> None:
    with pytest.raises(ValueError, match="there is a rule hold-slow already"):
        lay_out("hold-slow", "", copy)
    with pytest.raises(ValueError, match="no module nowhere"):
        lay_out("hold-outranked", "nowhere", copy)


AKIMA = '''"""Akima, J. ACM 17(4), 1970."""

from fractions import Fraction
from itertools import pairwise

RANK = 4
UNKNOWN_MAY_BE = True
MEANING = "a cubic that heeds outliers less"
WORDS = "smoothed after Akima"


def slopes(widths, chords):
    chords = [3 * chords[0] - 2 * chords[1], 2 * chords[0] - chords[1], *chords]
    chords = [*chords, 2 * chords[-1] - chords[-2], 3 * chords[-1] - 2 * chords[-2]]
    return [_slope(*chords[n : n + 4]) for n in range(len(widths) + 1)]


def _slope(m1, m2, m3, m4):
    before, after = abs(m4 - m3), abs(m2 - m1)
    return (m2 + m3) / 2 if before + after == 0 else (before * m2 + after * m3) / (before + after)


def plain_slopes(points):
    return slopes([b[0] - a[0] for a, b in pairwise(points)], [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points)])
'''
POINTS = [[-100, -60], [-40, -50], [10, 20], [30, 80], [100, 90]]
BY_AKIMA = f"""
format = 1
[curves.bent]
points = {POINTS}
smoothing = "%s"
[channels.motor]
drives = "motor"
from = "throttle"
curve = "bent"
"""
VALUES = f"""
from fractions import Fraction
from setuplint.curves.cubics import curve, value
from setuplint.plain.interpolation import interpolate
points = tuple((Fraction(x), Fraction(y)) for x, y in {POINTS})
places = [Fraction(n, 7) for n in range(-700, 701, 9)]
print(*(float(value(curve(points, "akima"), at)) for at in places))
print(*(float(interpolate(points, "akima", at)) for at in places))
"""


@pytest.mark.slow
def test_a_smoothing(copy: Path) -> None:
    before = contents(copy)
    (copy / "setuplint" / "setup" / "smoothings" / "akima.py").write_text(AKIMA, encoding="utf-8")
    assert len(changed(before, copy)) == 1
    for smoothing in ("akima", "unknown"):
        (copy / f"{smoothing}.toml").write_text(BY_AKIMA % smoothing, encoding="utf-8")
    assert '"akima"' in run(copy, "schema").stdout
    assert "not-a-setup" not in run(copy, "lint", "akima.toml").stdout
    assert "smoothed after Akima" in run(copy, "sheet", "akima.toml").stdout
    traced = run(copy, "trace", "unknown.toml", "--set", "throttle=-20").stdout
    assert "if smoothing is akima" in " ".join(traced.split())
    for words in (["lint"], ["bench-card"], ["report"], ["compare", "akima.toml"]):
        assert run(copy, *words, "unknown.toml").stderr == ""
    x, y = (numpy.array([float(point[n]) for point in POINTS]) for n in (0, 1))
    expected = Akima1DInterpolator(x, y)(numpy.arange(-700, 701, 9) / 7)
    command = [sys.executable, "-c", VALUES]
    lines = subprocess.run(command, cwd=copy, env={"PYTHONPATH": str(copy)}, capture_output=True, text=True, check=True)
    for line in lines.stdout.splitlines():
        assert [float(number) for number in line.split()] == pytest.approx(expected, abs=1e-9)


FORMAT = '''"""One line for each finding."""

between = "\\n"


def opening(look):
    return "rules:\\n"


def section(report, look, fail_on="caution"):
    return "\\n".join(finding.rule for finding in report.findings)


def closing(summary, look):
    return f"\\n{summary.files} in all\\n"
'''


@pytest.mark.slow
def test_an_output_format(copy: Path) -> None:
    """It is a choice of the command, and writes."""
    before = contents(copy)
    (copy / "setuplint" / "formats" / "reports" / "names.py").write_text(FORMAT, encoding="utf-8")
    assert len(changed(before, copy)) == 1
    assert "{text,json,sarif,junit,markdown,names}" in run(copy, "lint", "--help").stdout.replace("\n", "")
    done = run(copy, "lint", "--format", "names", "examples/hazards/no-start-check.toml")
    assert done.stdout.splitlines() == ["rules:", "start-unguarded", "start-without-hold", "1 in all"]
