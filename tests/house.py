"""A drawing of the house: `python -m tests.house` writes docs/house.svg from the import contracts and the code."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent
PICTURE = ROOT / "docs" / "house.svg"
WIDTH, ROW, PAD = 760, 46, 10
STYLE = """\
text { font: 13px sans-serif; fill: #1c2733 } .small { font-size: 11px; fill: #51606f }
rect { fill: #eef3f8; stroke: #51606f } .ground { fill: #f7f4ec }
@media (prefers-color-scheme: dark) {
  text { fill: #e6edf3 } .small { fill: #a9b8c6 } rect { fill: #1d2935; stroke: #a9b8c6 } .ground { fill: #2b2a22 } }"""


def layers() -> list[list[str]]:
    """The rooms of each layer, the uppermost first, as the contract has them."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    rows = next(contract["layers"] for contract in contracts if contract["type"] == "layers")
    return [[room.strip().removeprefix("setuplint.") for room in row.split("|")] for row in rows]


def modules(room: str) -> list[Path]:
    folder = ROOT / "setuplint" / room
    return sorted(folder.rglob("*.py")) if folder.is_dir() else [folder.with_suffix(".py")]


def size(room: str) -> str:
    """How many modules and lines."""
    found = modules(room)
    lines = sum(len(path.read_text(encoding="utf-8").splitlines()) for path in found)
    return f"{len(found)} module{'s' * (len(found) != 1)}, {lines:,} lines"


def svg() -> str:
    """The whole drawing: each row stands on the rooms that it may use."""
    rows = layers()
    height = len(rows) * ROW + 2 * PAD
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="The rooms of setuplint">',
        f"<style>{STYLE}</style>",
    ]
    for n, row in enumerate(rows):
        wide = (WIDTH - 2 * PAD) / len(row)
        for column, room in enumerate(row):
            x, y = PAD + column * wide, PAD + n * ROW
            kind = ' class="ground"' if room in ("source", "setup", "plain", "curves", "budget", "solver") else ""
            parts.append(f'<rect{kind} x="{x:g}" y="{y}" width="{wide - 6:g}" height="{ROW - 6}" rx="4"/>')
            parts.append(f'<text x="{x + 10:g}" y="{y + 18}">{room}</text>')
            parts.append(f'<text class="small" x="{x + 10:g}" y="{y + 33}">{size(room)}</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"


if __name__ == "__main__":
    PICTURE.write_text(svg(), encoding="utf-8")
