"""The pictures of the README and the guide, made by the tool from the examples: `python -m tests.pictures` writes them again."""

from __future__ import annotations

import re
from pathlib import Path

import setuplint
from setuplint.book import rulebook
from setuplint.pages.curve_charts import channel_charts
from setuplint.pages.html import tag, text
from setuplint.pages.override_map import override_maps
from setuplint.pages.picture import curve_picture, map_picture, standalone_svg
from setuplint.pages.report_battery import TITLE, WIDTH, battery_drawing, pack_of
from setuplint.setup.model import Setup

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "examples" / "pictures"


def made() -> dict[str, str]:
    """Every picture by its file's name."""
    dips = _load("hazards/curve-dips-when-smoothed.toml")
    beaten = _load("hazards/rescue-beats-hold.toml")
    mended = _load("firecrest.toml")
    return {
        "curve-dips.svg": motor_picture(dips),
        "curve-soft.svg": motor_picture(mended),
        "who-takes-what.svg": map_picture(override_maps(beaten)[0]),
        "hold-wins.svg": map_picture(override_maps(mended)[0]),
        "pack.svg": pack_picture(mended),
    }


def motor_picture(setup: Setup) -> str:
    return curve_picture(next(chart for chart, _ in channel_charts(setup) if chart.title.startswith("motor")))


def pack_picture(setup: Setup) -> str:
    """The battery's drawing with its title above it."""
    drawing = battery_drawing(pack_of(setup, rulebook.rules()))
    tall = float(re.findall(r'viewBox="0 0 [\d.]+ ([\d.]+)"', drawing)[0])
    placed = drawing.replace("<svg ", f'<svg y="30" height="{tall:.0f}" ', 1)
    return standalone_svg(tag("text", text(TITLE), x=12, y=21, class_="title") + placed, TITLE, WIDTH, tall + 30)


def _load(name: str) -> Setup:
    return setuplint.load(ROOT / "examples" / name).model


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, picture in made().items():
        (FOLDER / name).write_text(picture + "\n", encoding="utf-8", newline="\n")
        print(f"examples/pictures/{name}")
