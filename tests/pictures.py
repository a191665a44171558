"""The pictures of the README, made by the tool from the examples: `python -m tests.pictures` writes them anew."""

from __future__ import annotations

from pathlib import Path

import setuplint
from setuplint.pages.curve_charts import channel_charts
from setuplint.pages.html import tag, text
from setuplint.pages.override_map import NUMBERED, OverrideMap, override_maps
from setuplint.pages.picture import curve_picture, standalone_svg
from setuplint.setup.model import Setup

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "examples" / "pictures"
LEAST = 560  # wide enough for the words


def made() -> dict[str, str]:
    """Every picture by its file's name."""
    dips = _load("hazards/curve-dips-when-smoothed.toml")
    beaten = _load("hazards/rescue-beats-hold.toml")
    motor = next(chart for chart, _ in channel_charts(dips) if chart.title.startswith("motor"))
    return {"curve-dips.svg": curve_picture(motor), "who-takes-what.svg": map_picture(override_maps(beaten)[0])}


def map_picture(drawing: OverrideMap) -> str:
    """An override map with its title above it, and what its numbers mean below."""
    wide, top = max(drawing.wide, LEAST), 30
    inside = tag("text", text(drawing.title), x=12, y=21, class_="title")
    inside += tag("g", drawing.inside, transform=f"translate(0 {top})")
    inside += tag("text", text(NUMBERED), x=12, y=f"{top + drawing.tall + 12:.0f}", class_="quiet")
    return standalone_svg(inside, drawing.title, wide, top + drawing.tall + 24)


def _load(name: str) -> Setup:
    return setuplint.load(ROOT / "examples" / name).model


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, picture in made().items():
        (FOLDER / name).write_text(picture + "\n", encoding="utf-8", newline="\n")
        print(f"examples/pictures/{name}")
