"""Where a reading stands: the text, the table in hand, the brackets still open, and the problems so far."""

from setuplint.source.document import Path, Problem, Span
from setuplint.source.forms import MAX_PROBLEMS
from setuplint.source.marks import EXPLICIT, Table

TYPE_CHECKING = False
if TYPE_CHECKING:
    from setuplint.source.kept_tables import KeptTables


class ReaderState:
    """Positions are offsets in `text`.

    `path` is that of the table in hand, `names` the key of the statement in hand, `open` the positions of the brackets
    still open, `section` the number of the heading or braces in hand, and `closer` what `faults` last found out about
    the end of braces: where it looked from, where it stopped, and whether they close there. `kept` are tables that need not be
    read again.
    """

    __slots__ = (
        "broken", "closer", "count", "depth", "kept", "names", "open", "path", "problems", "root", "section", "sections",
        "seen", "statement", "table", "text",
    )  # fmt: skip

    def __init__(self, text: str, kept: "KeptTables | None" = None) -> None:
        self.text, self.kept = text, kept
        self.root = self.table = Table(EXPLICIT)
        self.path: Path = ()
        self.names: tuple[str, ...] = ()
        self.section = self.sections = 1
        self.statement = 0
        self.depth = 0
        self.open: list[int] = []
        self.problems: list[Problem] = []
        self.count = 0
        self.seen: set[int] = set()
        self.broken: dict[Path, None] = {}
        self.closer = (0, -1, False)

    def next_line(self, pos: int) -> int:
        """The start of the line after the one at `pos`, or the end of the text."""
        newline = self.text.find("\n", pos)
        return newline + 1 if newline >= 0 else len(self.text)

    def problem(self, start: int, end: int, message: str, help: str) -> None:
        """Note a problem, at most one at a position: a line may be read twice."""
        if start in self.seen:
            return
        self.seen.add(start)
        self.count += 1
        if self.count <= MAX_PROBLEMS + 1:
            self.problems.append(Problem(Span(start, min(end, len(self.text))), message, help))

    def mark_broken(self) -> None:
        """Note that something of the statement in hand is lost."""
        self.broken[self.path + self.names if self.count <= MAX_PROBLEMS else self.path] = None

    def sorted_problems(self) -> list[Problem]:
        """The problems in the order of the text; beyond the limit, a last one that counts the others."""
        self.problems.sort(key=lambda problem: problem.span)
        more = self.count - MAX_PROBLEMS
        if more > 0:
            span = self.problems.pop().span
            message = "One more problem follows." if more == 1 else f"{more:,} more problems follow."
            self.problems.append(Problem(span, message, "Mend the first ones, then read the file again."))
        return self.problems
