"""One table of the file as its builder reads it: each key with the type the models promise, or not to be relied on."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from setuplint.fraction import fraction
from setuplint.hints import Any
from setuplint.setup.formula_parser import parsed_formula
from setuplint.setup.formulas import Formula, FormulaError, Unknown
from setuplint.setup.model import Path
from setuplint.setup.names import Names, resolved_formula
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted

MOST_DIGITS = 40


class Fields:
    """A table at a path. A key is *given* (and good), *absent*, or *lost*: wrong, or in a line that could not be read.

    The readers below give None for what is lost; ask `lost` where that must be told from what is absent.
    """

    __slots__ = ("absent_is_unknown", "name", "notes", "path", "table")

    def __init__(self, notes: Notes, path: Path, table: Any) -> None:
        self.notes, self.path = notes, path
        self.name = notes.misnamed.get(path) or str(path[-1])
        self.table: Mapping[str, Any] = table if isinstance(table, dict) else {}
        self.absent_is_unknown = not isinstance(table, dict) or notes.absent_is_unknown(path)

    def path_of(self, key: str) -> Path:
        return (*self.path, key)

    def is_given(self, key: str) -> bool:
        return key in self.table and self.path_of(key) not in self.notes.lost

    def is_lost(self, key: str) -> bool:
        path = self.path_of(key)
        if path in self.notes.lost:
            return True
        return key not in self.table and (self.absent_is_unknown or path in self.notes.gone)

    def is_absent(self, key: str) -> bool:
        return key not in self.table and not self.is_lost(key)

    def get(self, key: str) -> Any:
        """The value if it is given, else None."""
        return self.table[key] if self.is_given(key) else None

    def number(self, key: str, default: Fraction | None = None) -> Fraction | None:
        if self.is_given(key):
            return exact_number(self.notes, self.path_of(key), self.table[key])
        return None if self.is_lost(key) else default

    def text(self, key: str) -> str | None:
        value = self.get(key)
        return value if isinstance(value, str) else None

    def voice(self) -> str | None:
        """The `voice`; None where it is not given or has nothing to say: blanks are not heard."""
        voice = self.text("voice")
        return voice if voice and not voice.isspace() else None

    def word(self, key: str, default: str) -> str:
        return self.text(key) or default

    def flag(self, key: str) -> bool:
        return self.get(key) is True

    def formula(self, key: str, names: Names, claim: bool = False) -> Formula | None:
        """The formula, None if absent; Unknown if it cannot be read, or where names in it are nothing."""
        if not self.is_given(key):
            return self.unknown(key) if self.is_lost(key) else None
        path = self.path_of(key)
        try:
            written = parsed_formula(self.table[key])
        except FormulaError as error:
            self.notes.add("not-a-setup", path, error.message, error.help, within=(error.start, error.end))
            return self.unknown(key)
        formula, problems = resolved_formula(written, names, path, claim)
        for problem in problems:
            self.notes.add(
                problem.rule, path, problem.message, problem.help,
                subject=problem.subject, within=problem.within, lose=False,
            )  # fmt: skip
        return formula

    def unknown(self, key: str | None = None) -> Unknown:
        return Unknown(f"{dotted(self.path if key is None else self.path_of(key))} cannot be read")

    def note_wrong(self, key: str, message: str, help: str, other: str = "") -> None:
        related = ((self.path_of(other), f"{other} is here"),) if other and self.is_given(other) else ()
        self.notes.add("not-a-setup", self.path_of(key), message, help, related=related)

    def note_missing(self, key: str, what: str, help: str) -> None:
        """`what` follows the name of the table."""
        path, message = self.path_of(key), f"{dotted(self.path)} {what}"
        self.notes.add("not-a-setup", self.path, message, help, subject=dotted(path), lose=False)
        self.notes.lose(path)

    def child(self, key: str) -> Fields:
        return Fields(self.notes, self.path_of(key), self.table.get(key))


def exact_number(notes: Notes, path: Path, value: Any) -> Fraction | None:
    """An int or Decimal as it is written. A number with more digits than anything measures is a finding."""
    if isinstance(value, Decimal):
        digits, power = len(value.as_tuple().digits), value.as_tuple().exponent
        if not isinstance(power, int) or digits > MOST_DIGITS or not -MOST_DIGITS <= power <= MOST_DIGITS:
            notes.add(
                "not-a-setup", path, f"{dotted(path)} has more digits than anything measures", "write a shorter number"
            )
            return None
    return fraction(value)
