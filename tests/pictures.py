"""The pictures of the README, made by the tool from the examples: `python -m tests.pictures` writes them anew."""

from __future__ import annotations

from pathlib import Path

import setuplint
from setuplint.pages.curve_charts import channel_charts
from setuplint.pages.override_map import override_maps
from setuplint.pages.picture import curve_picture, map_picture
from setuplint.setup.model import Setup

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "examples" / "pictures"


def made() -> dict[str, str]:
    """Every picture by its file's name."""
    dips = _load("hazards/curve-dips-when-smoothed.toml")
    beaten = _load("hazards/rescue-beats-hold.toml")
    motor = next(chart for chart, _ in channel_charts(dips) if chart.title.startswith("motor"))
    return {"curve-dips.svg": curve_picture(motor), "who-takes-what.svg": map_picture(override_maps(beaten)[0])}


def _load(name: str) -> Setup:
    return setuplint.load(ROOT / "examples" / name).model


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, picture in made().items():
        (FOLDER / name).write_text(picture + "\n", encoding="utf-8", newline="\n")
        print(f"examples/pictures/{name}")
