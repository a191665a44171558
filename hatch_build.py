"""What a built package has besides its sources: the heads of the rule files, and the shape of a setup's file, as modules, which
Python reads in a tenth of the time that TOML and JSON take. A checkout reads the files themselves."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class Prepared(BuildHookInterface[Any]):
    """Puts `setuplint/book/prepared_heads.py` and `setuplint/setup/prepared_format.py` into a wheel."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable":
            return
        sys.path.insert(0, self.root)
        from setuplint.book.rulebook import heads_written
        from setuplint.setup.shape import format_written

        self.made = []
        for module, text in (
            ("book/prepared_heads.py", heads_written()),
            ("setup/prepared_format.py", format_written()),
        ):
            made = Path(self.directory, Path(module).name)
            made.parent.mkdir(parents=True, exist_ok=True)
            made.write_text(text, encoding="utf-8")
            build_data["force_include"][str(made)] = f"setuplint/{module}"
            self.made.append(made)

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        if version != "editable":
            for made in self.made:
                made.unlink()
