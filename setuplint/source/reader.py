"""The reader itself: one pass over the text, in time that grows with its length. An error costs one line at most.

The common forms are matched by a few regular expressions. What they do not match goes to the slower `strings` and
`faults`, which read it or say what is wrong with it; they are loaded only then.
"""

import re

from setuplint.source import scalars
from setuplint.source.document import Document, Problem, Span
from setuplint.source.forms import (
    LOST,
    MAX_DEPTH,
    MAX_SIZE,
    KeyStep,
    StatementLost,
    Value,
    blank,
    dotted_steps,
    next_plain_heading,
    plain_heading,
    plain_key,
    plain_scalar,
    tail,
    unopened_heading,
)
from setuplint.source.marks import EXPLICIT, FROZEN, Items, Mark, Table
from setuplint.source.state import ReaderState
from setuplint.source.tables import Clash, add_pair, opened_table

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from setuplint.source.kept_tables import KeptTable, KeptTables

_LITERALS = {"true": True, "false": False}


def parsed_document(data: bytes | str, name: str = "<text>", kept: "KeptTables | None" = None) -> Document:
    """Read a TOML 1.0 text; never raises, whatever the text.

    Our limits, each a problem of its own: 1,000,000 bytes or characters; tables and lists nested 100 deep together,
    however they are written; whole numbers of 4,300 digits (3,500 after 0x, 0o or 0b); years 1 to 9999. A float whose
    exponent has more than 18 digits is infinite or zero; fractions of a second are cut to microseconds. Bytes are
    UTF-8, a byte-order mark is dropped. Of more than 50 problems, the first 50 are given and a last one that counts
    the others. `kept`: where tables are to be kept for later versions of the text, with those of the version before.
    """
    if len(data) > MAX_SIZE or isinstance(data, bytes) or "\0" in data or not data.isascii():
        from setuplint.source.decoding import decoded_text

        text, fault = decoded_text(data, MAX_SIZE)
        if fault is not None:
            start, end, message, help = fault
            return _unread(name, text, Problem(Span(start, end), message, help))
    else:
        text = data
    reader = Reader(text, kept)
    reader.statements()
    if kept is not None:
        kept.is_read()
    if reader.problems:
        from setuplint.source.faults import undone_merge

        conflict = undone_merge(text)
        if conflict is not None:
            return _unread(name, text, conflict)
        if len(lines := re.split("\r(?!\n)", text)) > 1:  # what stands behind one is lost
            known = {*reader.root.values, *(path[0] for path in reader.broken if path)}
            reader.broken |= dict.fromkeys((top,) for top in _tops("\n".join(lines)) if top not in known)
    return Document(name, text, reader.root, reader.sorted_problems(), list(reader.broken), kept)


def _unread(name: str, text: str, problem: Problem) -> Document:
    """A text of which no value is sure: it has one problem, and all that is in it is lost. The names at its top still tell
    whose file it is."""
    return Document(name, text, Table(EXPLICIT), [problem], [(), *[(top,) for top in _tops(text.replace("\0", ""))]])


def _tops(text: str) -> "list[str | int]":
    """The names at the top of a text, whatever can be read of what they have."""
    reader = Reader(text)
    reader.statements()
    return list(dict.fromkeys([*reader.root.values, *[path[0] for path in reader.broken if path]]))


def _table_alone(piece: str) -> Table | None:
    """The table that a piece of a text is; None where it is more than one, or something is wrong with it."""
    reader = Reader(piece)
    reader.statements()
    one = reader.section == 2  # heading
    return reader.table if one and not reader.count and not reader.broken else None


class Reader(ReaderState):
    """Reads statement by statement."""

    __slots__ = ()

    def statements(self) -> None:
        text, size = self.text, len(self.text)
        pos = blank(text, 0).end()
        while pos < size:
            self.statement = pos
            try:
                key = plain_key(text, pos)
                if key is not None:
                    pos = self._pair(pos, key)
                elif text[pos] == "[" or unopened_heading(text, pos):
                    pos = self._heading(pos)
                elif text[pos] == "#":
                    self.names = ()
                    pos = self._tail(pos)
                else:
                    pos = self._pair(pos, None)
            except StatementLost as lost:
                self.mark_broken()
                self.open.clear()
                self.depth = len(self.path)
                pos = blank(text, lost.resume).end()

    # ---- statements

    def _pair(self, pos: int, key: re.Match[str] | None) -> int:
        text, count = self.text, self.count
        steps: list[KeyStep] | None = None
        if key is None or "." in key[1]:
            self.names = ()
            steps, start = self._key(pos)
            self.names = tuple([step[0] for step in steps])
            self.depth += len(steps) - 1
        else:
            name = key[1]
            self.names = (name,)
            start = key.end()
        value, end, node = self._value(start)
        damaged = self.count != count
        follows = tail(text, end)
        if follows is not None:
            resume = follows.end()
        elif value is LOST:
            raise StatementLost(self.next_line(end))
        else:
            resume = self._tail(end)
        if steps is not None:
            self.depth -= len(steps) - 1
            if value is not LOST:
                damaged |= not self._put(self.table, steps, self.section, value, (start, end), node)
        elif value is not LOST:
            if name in self.table.marks:
                damaged = True
                self._repeated(self.table, (self.table.marks[name], (name, pos, pos + len(name))), [name])
            else:
                self.table.values[name] = value
                self.table.marks[name] = (pos, pos + len(name), start, end, node)
        if damaged:
            self.mark_broken()
        return resume

    def _heading(self, pos: int) -> int:
        match = plain_heading(self.text, pos)
        self.names = ()
        self.sections += 1
        self.section = self.sections
        steps = dotted_steps(match[match.lastindex or 0], match.start(match.lastindex or 0)) if match else None
        if match is not None and steps is not None and len(steps) <= MAX_DEPTH:
            double, end = match.lastindex == 2, match.end()
        else:
            steps, double, end = self._odd_heading(pos)
        kept = None if self.kept is None or match is None else self._kept(self.kept, pos, steps)
        ready = None if kept is None else kept.table
        self.table, path, clash = opened_table(self.root, steps, double, (pos, end), ready)
        if self.kept is not None and kept is not None and self.table is ready:
            self.kept.by_values[id(self.table.values)] = kept
            return blank(self.text, pos + kept.size).end()
        self.path = tuple(path)
        self.depth = len(path)
        if clash is not None:
            # Its keys are read for their own problems, into a table that is not kept.
            from setuplint.source.faults import note_refused_heading

            note_refused_heading(self, clash)
            self.mark_broken()
        return self._tail(end)

    def _kept(self, kept: "KeptTables", pos: int, steps: list[KeyStep]) -> "KeptTable | None":
        """The table of the heading at `pos` with all that is in it, where it can be read by itself."""
        if len(steps) > 1:  # in a list of tables it lies deeper than by itself
            mark = self.root.marks.get(steps[0][0])
            if len(steps) > 2 or (mark is not None and isinstance(mark[4], Items)):
                return None
        following = next_plain_heading(self.text, pos)
        piece = self.text[pos : following.start() + 1 if following else len(self.text)]
        return kept.table_of(piece, _table_alone)

    def _put(
        self,
        table: Table,
        steps: list[KeyStep],
        section: int,
        value: "Any",
        span: tuple[int, int],
        node: Table | Items | None,
    ) -> bool:
        clash = add_pair(table, steps, section, value, span, node)
        if clash is not None:
            self._repeated(table, clash, [step[0] for step in steps])
        return clash is None

    # ---- values

    def _value(self, pos: int) -> Value:
        text = self.text
        match = plain_scalar(text, pos)
        if match is not None:
            word, end = match[0], match.end()
            if word[0] == '"':
                if end - pos == 2 and text.startswith('"', end):
                    return self._string(pos)
                return word[1:-1], end, None
            if word.isdigit() and (word[0] != "0" or end - pos == 1) and end - pos < 600:
                return int(word), end, None
            if word in _LITERALS:
                return _LITERALS[word], end, None
            if word[0] == "-" and word[1:].isdigit() and word[1] != "0" and end - pos < 600:
                return int(word), end, None
            return self._word(word, pos, end)
        if text.startswith("[", pos):
            return self._list(pos)
        if text.startswith("{", pos):
            return self._braces(pos)
        if text.startswith(("'", '"'), pos):
            return self._string(pos)
        from setuplint.source.faults import no_value

        raise no_value(self, pos)

    def _list(self, start: int) -> Value:
        text = self.text
        self._deeper(start)
        values: list[Any] = []
        marks: list[Mark] = []
        complete = True
        pos = blank(text, start + 1).end()
        while not text.startswith("]", pos):
            if text.startswith(",", pos):
                self.problem(
                    pos, pos + 1, "There is no value before this comma.", "Delete the comma, or write the value."
                )
                complete = False
                pos = blank(text, pos + 1).end()
                continue
            value, end, node = self._value(pos)
            if value is LOST:
                complete = False
            else:
                values.append(value)
                marks.append((-1, -1, pos, end, node))
            pos = end
            following = text[pos : pos + 1]
            if following not in (",", "]"):
                pos = blank(text, pos).end()
                following = text[pos : pos + 1]
            if following == ",":
                pos = blank(text, pos + 1).end()
            elif following != "]":
                from setuplint.source.faults import unfinished

                raise unfinished(self, pos, noted=value is LOST and pos == end)
        self.open.pop()
        self.depth -= 1
        return (values, pos + 1, Items(FROZEN, values, marks)) if complete else (LOST, pos + 1, None)

    def _braces(self, start: int) -> Value:
        text = self.text
        self._deeper(start)
        self.sections += 1
        section = self.sections
        table = Table(FROZEN)
        complete = True
        pos = self._gap(start, start + 1)
        while not text.startswith("}", pos):
            steps, start_of_value = self._key(pos)
            self.depth += len(steps) - 1
            value, end, node = self._value(start_of_value)
            self.depth -= len(steps) - 1
            if value is LOST:
                complete = False
            else:
                self._put(table, steps, section, value, (start_of_value, end), node)
            pos = self._gap(start, end)
            if text.startswith(",", pos):
                comma, pos = pos, self._gap(start, pos + 1)
                if text.startswith("}", pos):
                    self.problem(comma, comma + 1, "No comma may stand before `}`.", "Delete the comma.")
            elif not text.startswith("}", pos):
                from setuplint.source.faults import unfinished

                raise unfinished(self, pos, noted=value is LOST and pos == end)
        self.open.pop()
        self.depth -= 1
        return (table.values, pos + 1, table) if complete else (LOST, pos + 1, None)

    def _gap(self, start: int, pos: int) -> int:
        """Past the blanks inside braces that open at `start`; a line end there is a problem."""
        end = blank(self.text, pos).end()
        if end > pos and "\n" in self.text[pos:end]:
            from setuplint.source.faults import note_line_end_in_braces

            note_line_end_in_braces(self, start, pos)
        return end

    def _deeper(self, start: int) -> None:
        self.open.append(start)
        self.depth += 1
        if self.depth > MAX_DEPTH:
            from setuplint.source.faults import too_deep

            raise too_deep(self, start)

    def _string(self, pos: int) -> Value:
        from setuplint.source import strings

        found = strings.scanned_string(self.text, pos)
        if found.end < 0:
            from setuplint.source.faults import unclosed_string

            raise unclosed_string(self, pos)
        for start, end, message, help in found.faults:
            self.problem(start, end, message, help)
        return LOST if found.faults else "".join(found.pieces), found.end, None

    def _word(self, word: str, pos: int, end: int) -> Value:
        if len(word) == 10 and word[4] == "-" and self.text.startswith(" ", end):
            time = plain_scalar(self.text, end + 1)
            if time is not None and time[0][2:3] == ":":
                end = time.end()
                word = self.text[pos:end]
        value = scalars.scalar_value(word)
        if value is not None:
            return value, end, None
        from setuplint.source.faults import bad_word

        return bad_word(self, word, pos, end)

    def _key(self, pos: int) -> tuple[list[KeyStep], int]:
        """A key of any form and the position of its value; raises Lost, with what could be read in `names`."""
        match = plain_key(self.text, pos)
        if match is not None:
            steps = dotted_steps(match[1], pos)
            if steps is not None and self.depth + len(steps) <= MAX_DEPTH + 1:
                return steps, match.end()
        from setuplint.source.faults import slow_key

        return slow_key(self, pos)

    # ---- keys and ends of statements

    def _odd_heading(self, pos: int) -> tuple[list[KeyStep], bool, int]:
        from setuplint.source.faults import odd_heading

        # Until the name is known, what follows belongs to no table that we have.
        self.table = Table(EXPLICIT)
        self.path = ()
        self.depth = 0
        return odd_heading(self, pos)

    def _repeated(self, table: Table, clash: Clash, names: list[str]) -> None:
        """A key that has a value: which of the two is meant is not known, so neither is kept."""
        from setuplint.source.faults import note_repeated_key

        note_repeated_key(self, clash)
        holder: Any = table.values
        for name in names[:-1]:
            holder = holder.get(name) if isinstance(holder, dict) else None
        if isinstance(holder, dict):
            holder.pop(names[-1], None)

    def _tail(self, pos: int) -> int:
        """The start of the next statement, after a heading, value or comment; raises Lost if more stands there."""
        follows = tail(self.text, pos)
        if follows is not None:
            return follows.end()
        from setuplint.source.faults import next_statement_after

        return next_statement_after(self, pos)
