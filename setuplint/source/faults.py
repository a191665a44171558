"""Rare but legal forms, and for a text that is not TOML what to say and where to go on."""

import re

from setuplint.source import strings
from setuplint.source.colons import LONGEST, value_after_colon
from setuplint.source.document import Problem, Span
from setuplint.source.forms import (
    COMMENT,
    LOST,
    MAX_DEPTH,
    MAX_PROBLEMS,
    KeyStep,
    StatementLost,
    Value,
    blank,
    tail,
)
from setuplint.source.marks import FROZEN, Items
from setuplint.source.state import ReaderState
from setuplint.source.tables import Clash

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

_NOT_A_VALUE = r"(?!(?:true|false|inf|nan)(?![A-Za-z0-9_-]))"
_NAME = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
# A line that no list goes on with: one that begins with a word, or with a word in brackets, or a key and `=`.
_STATEMENT = rf"\n[ \t]*+(?:\[{{0,2}}[ \t]*+{_NOT_A_VALUE}[A-Za-z_]|{_NAME}(?:[ \t]*+\.[ \t]*+{_NAME})*[ \t]*+=)"
_next_statement = re.compile(_STATEMENT)
_next_heading = re.compile(rf"\n[ \t]*+\[{{1,2}}[ \t]*+{_NOT_A_VALUE}[A-Za-z_\"']").search
_next_closer = re.compile(rf"\n[ \t]*+(?:(\}})|\[{{1,2}}[ \t]*+{_NOT_A_VALUE}[A-Za-z_])").search
_bare = re.compile(r"[A-Za-z0-9_-]++").match
_spaces: "Callable[[str, int], re.Match[str]]" = re.compile(r"[ \t]*+").match  # type: ignore[assignment]  # always matches
_like_a_name = re.compile(r"[^\s=.\[\]{},#\"']++").match
_QUOTES = {"“", "”", "„", "‟", "‘", "’", "‚", "«", "»", "`", "´"}
_LINE_LOOK_BACK = 200
_marker = re.compile(r"^(?:<{7}|>{7})(?: .*)?\r?$", re.MULTILINE).search


def shortened(text: str, length: int = 40) -> str:
    text = text.strip()
    return text if len(text) <= length else text[:length] + "..."


def undone_merge(text: str) -> Problem | None:
    """The problem of a text that still has the marks of a merge: one, whatever stands between them."""
    mark = _marker(text)
    if mark is None:
        return None
    message = "A merge was left undone: from this line on two versions of the file stand side by side."
    return Problem(
        Span(mark.start(), len(mark[0].rstrip("\r")) + mark.start()),
        message,
        "Take one version, or put both together, and delete the lines of <<<<<<<, ======= and >>>>>>>.",
    )


def line_number(reader: ReaderState, pos: int) -> int:
    """The number of the line at `pos`; 0 once so many problems are noted that nobody will read it."""
    return reader.text.count("\n", 0, pos) + 1 if reader.count <= MAX_PROBLEMS else 0


def end_of_line(text: str, pos: int) -> int:
    newline = text.find("\n", pos)
    end = newline if newline >= 0 else len(text)
    return end - 1 if end > pos and text[end - 1] == "\r" else end


def is_control(text: str, pos: int) -> bool:
    """Whether the character at `pos` is a control character, and not the line end of a line."""
    character = text[pos : pos + 1]
    return character == "\x7f" or (character not in ("", "\n") and character < " " and not text.startswith("\r\n", pos))


def resume_after(reader: ReaderState, pos: int) -> StatementLost:
    """Gives up the statement: at the next line or, in a list or braces, where the next statement begins."""
    text = reader.text
    if not reader.open:
        return StatementLost(reader.next_line(pos))
    newline = text.rfind("\n", reader.statement, pos)
    found = _next_statement.search(text, newline if newline >= 0 else pos)
    return StatementLost(found.start() + 1 if found else len(text))


# ---- keys and headings


def slow_key(reader: ReaderState, pos: int) -> tuple[list[KeyStep], int]:
    """A key with quotes, blanks round its dots, or a fault."""
    steps, pos = key_steps(reader, pos, MAX_DEPTH + 1 - reader.depth)
    text = reader.text
    if text.startswith("=", pos):
        return steps, _spaces(text, pos + 1).end()
    _keep_names(reader, steps)
    key = shortened(text[steps[0][1] : steps[-1][2]])
    rest = _like_a_name(text, pos)
    if rest is not None and text[pos - 1] not in " \t" and not rest[0].isascii():
        _note_name_without_quotes(reader, steps[-1][1], rest.end(), key + shortened(rest[0]))
    elif reader.open and text[pos : pos + 1] in ("", "\n", "\r"):
        raise unfinished(reader, pos)
    else:
        value = "" if reader.open or len(key) > LONGEST else value_after_colon(text, pos)
        meant = f"{key} = {value}" if value else "name = value"
        heading = f", or `[{key}]` for a heading" if len(steps) > 1 and not (reader.open or value) else ""
        reader.problem(steps[0][1], steps[-1][2], f"There is no `=` after `{key}`.", f"Write `{meant}`{heading}.")
    raise resume_after(reader, pos)


def key_steps(reader: ReaderState, pos: int, most: int) -> tuple[list[KeyStep], int]:
    """The steps of a key, `most` at most, and the position after it and its blanks. Raises StatementLost."""
    text = reader.text
    steps: list[KeyStep] = []
    while True:
        match = _bare(text, pos)
        if match is not None:
            steps.append((match[0], pos, match.end()))
            pos = match.end()
        elif text.startswith(('"', "'"), pos):
            found = strings.scanned_string(text, pos, multi_line=False)
            if found.end < 0 or found.faults:
                _keep_names(reader, steps)
                if found.end < 0:
                    raise unclosed_string(reader, pos)
                for fault in found.faults:
                    reader.problem(*fault)
                raise resume_after(reader, found.end)
            steps.append(("".join(found.pieces), pos, found.end))
            pos = found.end
        else:
            _keep_names(reader, steps)
            raise _no_name(reader, steps, pos)
        if len(steps) > most:
            raise too_deep(reader, steps[0][1])
        pos = _spaces(text, pos).end()
        if not text.startswith(".", pos):
            return steps, pos
        pos = _spaces(text, pos + 1).end()


def _keep_names(reader: ReaderState, steps: list[KeyStep]) -> None:
    """What could be read of a statement's key, so that the key counts as broken and not its table."""
    if not reader.open:
        reader.names = tuple([step[0] for step in steps])


def _note_name_without_quotes(reader: ReaderState, start: int, end: int, name: str) -> None:
    message = f"The name `{name}` has a character that needs quotes."
    help = "Use only a to z, A to Z, 0 to 9, - and _ in names, or put the name in double quotes."
    reader.problem(start, end, message, help)


def _note_odd_quote(reader: ReaderState, pos: int) -> None:
    message = f"`{reader.text[pos]}` is not a quote that TOML knows."
    reader.problem(pos, pos + 1, message, 'Use straight quotes: "like this".')


def _no_name(reader: ReaderState, steps: list[KeyStep], pos: int) -> StatementLost:
    text = reader.text
    character = text[pos : pos + 1]
    if reader.open and not steps and character in ("", "\n", "\r", "#"):
        return unfinished(reader, pos)
    match = _like_a_name(text, pos)
    if character in _QUOTES:
        _note_odd_quote(reader, pos)
    elif steps:
        dot = text.rfind(".", steps[-1][2], pos)
        reader.problem(dot, dot + 1, "There is no name after this dot.", "Write the name, or delete the dot.")
    elif character == "=":
        reader.problem(pos, pos + 1, "There is no name before this `=`.", "Write `name = value`.")
    elif match is not None and character.isalpha():
        _note_name_without_quotes(reader, pos, match.end(), shortened(match[0]))
    elif is_control(text, pos):
        reader.problem(pos, pos + 1, *strings.control_character(character))
    elif text.startswith("[", reader.statement) and not reader.open:
        reader.problem(pos, pos + 1, "There is no name in this heading.", "Write `[name]`.")
    else:
        reader.problem(
            pos,
            end_of_line(text, pos),
            "This line is not a setting.",
            "Write `name = value`, `[table]` or `# comment`.",
        )
    return resume_after(reader, pos)


def odd_heading(reader: ReaderState, pos: int) -> tuple[list[KeyStep], bool, int]:
    """A heading with quotes, blanks or a fault: its steps, whether it has two brackets, where it ends. Raises StatementLost."""
    text = reader.text
    opened, double = text.startswith("[", pos), text.startswith("[[", pos)
    close = "]]" if double else "]"
    try:
        steps, end = key_steps(reader, _spaces(text, pos + opened + double).end(), MAX_DEPTH)
    except StatementLost:
        reader.path, reader.names = reader.names, ()
        raise
    path = tuple([step[0] for step in steps])
    if not opened:
        close = "]]" if text.startswith("]]", end) else "]"
        whole = f"{'[' * len(close)}{text[pos:end]}{close}"
        reader.problem(pos, end + len(close), "This heading is not opened with `[`.", f"Write `{whole}`.")
        reader.broken[path] = None
        return steps, len(close) == 2, end + len(close)
    if text.startswith(close, end):
        return steps, double, end + len(close)
    rest = end + 1 if text.startswith("]", end) else end
    heading, seen = text[pos : steps[-1][2]], rest
    more = _bare(text, end)
    if more and text.startswith(close, more.end()):  # a blank where a point belongs
        heading, seen = f"{heading}.{more[0]}", more.end() + len(close)
    reader.problem(pos, seen, f"This heading is not closed with `{close}`.", f"Write `{heading}{close}`.")
    reader.broken[path] = None
    if tail(text, rest) is None:
        reader.path = path
        raise StatementLost(reader.next_line(rest))
    return steps, double, rest


def note_refused_heading(reader: ReaderState, clash: Clash) -> None:
    mark, (name, start, end) = clash
    name, line, node = shortened(name) or '""', line_number(reader, mark[0]), mark[4]
    if node is None or node.kind == FROZEN:
        message = f"`{name}` already has a value, on line {line}."
        help = "Give it once: there, or under a heading of its own."
    elif isinstance(node, Items):
        message = f"`{name}` is a list of tables since line {line}."
        help = f"Write its heading with two brackets: [[{name}]]."
    else:
        message = f"The table `{name}` is already given, on line {line}."
        help = "Give this one another name, or move its lines to the first."
    reader.problem(start, end, message, help)


def note_repeated_key(reader: ReaderState, clash: Clash) -> None:
    mark, (name, start, end) = clash
    name = shortened(name) or '""'
    message = f"`{name}` is already given, on line {line_number(reader, mark[0])}."
    reader.problem(start, end, message, "Keep one of the two; until then neither counts.")


def next_statement_after(reader: ReaderState, pos: int) -> int:
    text = reader.text
    pos = _spaces(text, pos).end()
    character = text[pos]
    if character == "#":
        bad = end_of_bad_comment(reader, pos)
        return blank(text, reader.next_line(bad)).end()
    end = end_of_line(text, pos)
    rest = shortened(text[pos:end])
    if is_control(text, pos):
        reader.problem(pos, pos + 1, *strings.control_character(character))
    elif character == "," and text[pos + 1 : pos + 2].isdigit():
        reader.problem(pos, end, "A number has a point, not a comma.", "Write decimals as in 21.6.")
    elif text.startswith("[", reader.statement):
        reader.problem(pos, end, f"`{rest}` stands behind the heading.", "Put it on a line of its own.")
    else:
        reader.problem(
            pos,
            end,
            f"`{rest}` stands behind the value.",
            "Begin a new line, put text in quotes, or `#` before a comment.",
        )
    raise StatementLost(reader.next_line(pos))


def end_of_bad_comment(reader: ReaderState, pos: int) -> int:
    """Notes the control character that breaks the comment at `pos` off; gives its position, or the text's end."""
    match = re.compile(COMMENT).match(reader.text, pos)
    bad = match.end() if match else pos
    if bad < len(reader.text):
        reader.problem(bad, bad + 1, *strings.control_character(reader.text[bad]))
    return bad


# ---- values


def no_value(reader: ReaderState, pos: int) -> StatementLost:
    """Notes what stands where a value should begin."""
    text = reader.text
    character = text[pos : pos + 1]
    in_list = bool(reader.open) and text[reader.open[-1]] == "["
    ends_line = character in ("", "\n") or text.startswith("\r\n", pos)
    if in_list and (ends_line or character == "#" or begins_statement(reader, pos)):
        return unfinished(reader, pos)
    if ends_line or character in ("#", ",", "}"):
        equals = text.rfind("=", reader.statement, pos)
        reader.problem(equals, equals + 1, "There is no value after this `=`.", "Write the value, or delete the line.")
    elif character in _QUOTES:
        _note_odd_quote(reader, pos)
    elif is_control(text, pos):
        reader.problem(pos, pos + 1, *strings.control_character(character))
    else:
        match = _like_a_name(text, pos)
        end = match.end() if match else pos + 1
        reader.problem(
            pos,
            end,
            f"`{shortened(text[pos:end])}` is not a value.",
            'Put text in quotes: "like this"; write numbers alone.',
        )
    return resume_after(reader, pos)


def bad_word(reader: ReaderState, word: str, pos: int, end: int) -> Value:
    """A word that is no value: the value it stands in is lost. After an unclosed list it begins the next statement."""
    from setuplint.source import scalars

    if reader.open and begins_statement(reader, pos):
        raise unfinished(reader, pos)
    reader.problem(pos, end, *scalars.word_fault(word))
    return LOST, end, None


def begins_statement(reader: ReaderState, pos: int) -> bool:
    """Whether what stands at `pos` begins a line, apart from brackets, that looks like a statement."""
    text = reader.text
    newline = text.rfind("\n", max(reader.statement, pos - _LINE_LOOK_BACK), pos)
    return (
        newline >= 0 and not text[newline + 1 : pos].strip(" \t[") and _next_statement.match(text, newline) is not None
    )


def unfinished(reader: ReaderState, pos: int, noted: bool = False) -> StatementLost:
    """A list or braces that neither go on nor close at `pos`; `noted` if that is part of a problem already noted."""
    if noted:
        return resume_after(reader, pos)
    text = reader.text
    if text.startswith("#", pos):
        comment, pos = pos, end_of_bad_comment(reader, pos)
        if pos < len(text):
            return resume_after(reader, comment)
    newline = text.rfind("\n", reader.statement, pos)
    runs_on = newline >= 0 and _next_statement.match(text, newline) is not None
    # Brackets on a line that begins a statement are a heading's, not the list's.
    opener = max([start for start in reader.open if start < newline or not runs_on])
    what, close = ("list", "]") if text[opener] == "[" else ("table in braces", "}")
    if runs_on or pos >= len(text) or (text[pos] in "\r\n" and close == "}"):
        reader.problem(opener, opener + 1, f"This {what} is not closed.", f"Write `{close}` behind its last item.")
    elif is_control(text, pos):
        reader.problem(pos, pos + 1, *strings.control_character(text[pos]))
    else:
        match = _like_a_name(text, pos)
        end = match.end() if match else pos + 1
        reader.problem(
            pos,
            end,
            f"`{shortened(text[pos:end])}` stands where a comma or `{close}` must.",
            f"Put a comma between the items of the {what}, and `{close}` behind the last.",
        )
    return resume_after(reader, pos)


def note_line_end_in_braces(reader: ReaderState, start: int, pos: int) -> None:
    """Note a line end inside braces. Raises StatementLost where they do not close on a later line."""
    searched, found, closes = reader.closer
    if not searched <= pos <= found:
        match = _next_closer(reader.text, pos)
        found = match.start() if match else len(reader.text)
        closes = match is not None and match[1] is not None
        reader.closer = (pos, found, closes)
    if not closes:
        reader.problem(
            start, start + 1, "This table in braces is not closed on its line.", "Write `}` at the end of the line."
        )
        raise resume_after(reader, pos)
    reader.problem(
        start,
        start + 1,
        "A table in braces must stand on one line.",
        "Join the lines, or give it a heading of its own.",
    )


def unclosed_string(reader: ReaderState, pos: int) -> StatementLost:
    text = reader.text
    quotes = text[pos] * 3
    if text.startswith(quotes, pos) and strings.scanned_string(text, pos, multi_line=False).end == pos + 2:
        reader.problem(pos, pos + 3, "This text of several lines is not closed.", f"Write `{quotes}` behind its end.")
        found = _next_heading(text, pos)
        return StatementLost(found.start() + 1 if found else len(text))
    end = end_of_line(text, pos)
    reader.problem(
        pos, end, "This text is not closed on its line.", f"Write `{text[pos]}` behind its end, on the same line."
    )
    return resume_after(reader, end)


def too_deep(reader: ReaderState, pos: int) -> StatementLost:
    reader.problem(
        pos,
        pos + 1,
        f"This is nested more than {MAX_DEPTH} deep.",
        "A setup needs no more than five; delete the brackets or dots too many.",
    )
    return resume_after(reader, pos)
