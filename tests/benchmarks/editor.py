"""How long the editor waits: from a keystroke to its diagnostics, and from the start to the first ones, over the wire.

A plain client types into a setup of about 100 lines and into one of 2,000, key by key, and waits each time for the diagnostics
of that very version; the same keys go to an empty pygls server, which is the floor, in turn with ours. The keys are those of
work: digits of a value, letters of a formula and of a new table (broken until they are complete), words in a comment.
Printed are medians and 95th percentiles with their ratio to the floor, by the clock and by the processor (of all threads of the
server's process: that hardly hangs on what else the machine does; Linux only), and how long sixty keys at once take, alone and
with four requests each. The first round of keys is of texts that were never judged; in later ones many were, as when one
undoes. Aims: 95 % of keys within 20 times the floor at 2,000 lines, within 4 times at 100; from the start to the first
diagnostics 1.1 times.

    python -m tests.benchmarks.editor            # some 400 keys a text: a minute or two
    python -m tests.benchmarks.editor 100        # fewer
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter, sleep
from typing import Any

from setuplint.source import parsed_document

ROOT = Path(__file__).parent.parent.parent
SMALL = ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"
SERVERS = {
    "setuplint": [sys.executable, "-m", "setuplint", "serve"],
    "empty": [sys.executable, "-m", "tests.benchmarks.empty_server"],
}
ENVIRONMENT = {
    name: value for name, value in os.environ.items() if name not in ("PYTHONDONTWRITEBYTECODE", "PYTHONUNBUFFERED")
}
KEYS, STARTS, BURSTS = 400, 9, 5
WARM = 2.0  # seconds after the first diagnostics: meanwhile a server imports what the first requests need
ROUND = 140  # keys, then the text is as at first, but for its comment
REQUESTS = tuple(
    f"textDocument/{name}" for name in ("documentSymbol", "foldingRange", "semanticTokens/full", "inlayHint")
)
SCREEN = {"start": {"line": 0, "character": 0}, "end": {"line": 60, "character": 0}}
URI = (ROOT / "examples" / "typed.toml").as_uri()

LIGHT = """
# Light {n}, on the {side} skid
[switches.lamp-{n}]
kind = "two-position"
place = "row {n}"
[conditions.light-{n}-on]
{when}
[curves.light-{n}]
points = [[-100, -100], [-20, -{low}], [0, 0], [100, 100]]
[channels.light-{n}]
drives = "other"
from = "{source}"
curve = "light-{n}"
in.idle-up = {{ rate = {rate} }}
[overrides.light-{n}-full]
channel = "light-{n}"
value = {n}
when = "light-{n}-on and not mode is idle-up"
priority = {n}
[alarms.light-{n}-told]
when = "light-{n}-on and not hold is on"
tone = true
"""
WHENS = (
    'when = "lamp-{n} is on and gain > {n}"\nafter = 0.5',
    'when = "motor-heat < {n} and lamp-{n} is on"\nstays = 2',
    'when = "lamp-{n} is on"\nuntil = "hold is on"',
)


def large(lines: int) -> str:
    """The reference with lights: each has a switch, a condition, a curve, a channel, an override and an alarm."""
    text = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
    text = text.replace("[sticks.throttle]", "[knobs.gain]\n[sticks.throttle]", 1)
    text += '\n[sensors.motor-heat]\nreads = "temperature"\n'
    n = 0
    while text.count("\n") < lines:
        n += 1
        text += LIGHT.format(
            n=n,
            side="left" if n % 2 else "right",
            when=WHENS[n % 3].format(n=n),
            low=n % 40,
            source=("gain", "rudder", "aileron")[n % 3],
            rate=60 + n % 40,
        )
    document = parsed_document(text)
    assert not document.problems, document.problems
    return text


class Typed:
    """A text as it is typed into: each key is one change of a line."""

    def __init__(self, text: str) -> None:
        self.lines = text.split("\n")

    def row(self, words: str) -> int:
        return next(n for n, line in enumerate(self.lines) if words in line)

    def insert(self, row: int, column: int, text: str) -> dict[str, Any]:
        line = self.lines[row]
        self.lines[row : row + 1] = (line[:column] + text + line[column:]).split("\n")
        return change(row, column, row, column, text)

    def delete(self, row: int, column: int) -> dict[str, Any]:
        """One character, or the line end."""
        line = self.lines[row]
        if column < len(line):
            self.lines[row] = line[:column] + line[column + 1 :]
            return change(row, column, row, column + 1, "")
        self.lines[row : row + 2] = [line + self.lines[row + 1]]
        return change(row, column, row + 1, 0, "")


def change(row: int, column: int, end_row: int, end_column: int, text: str) -> dict[str, Any]:
    start, end = {"line": row, "character": column}, {"line": end_row, "character": end_column}
    return {"range": {"start": start, "end": end}, "text": text}


def keys(text: str) -> Iterator[dict[str, Any]]:
    """Round and round: a value is typed again, a condition is added to a formula and taken away, a table is written and taken
    away, a comment grows."""
    typed = Typed(text)
    letters = '\n[alarms.second]\nwhen = "pack < 21.8"\nrepeat = 5'
    while True:
        row = typed.row("[overrides.held]") + 2
        column = len(typed.lines[row])
        yield typed.delete(row, column - 1)
        yield typed.insert(row, column - 1, "0")
        row = typed.row("[overrides.rescue-power]") + 3
        column = typed.lines[row].index('"', 8)
        for n, letter in enumerate(" and hold is off"):
            yield typed.insert(row, column + n, letter)
        for n in reversed(range(len(" and hold is off"))):
            yield typed.delete(row, column + n)
        row = start = typed.row("[alarms.link-weak]") - 1
        column = first = len(typed.lines[row])
        for letter in letters:
            yield typed.insert(row, column, letter)
            row, column = (row + 1, 0) if letter == "\n" else (row, column + 1)
        for letter in reversed(letters):
            row, column = (row - 1, len(typed.lines[row - 1])) if letter == "\n" else (row, column - 1)
            yield typed.delete(row, column)
        assert (row, column) == (start, first)
        row = typed.row("#")
        for letter in " and so on":
            yield typed.insert(row, len(typed.lines[row]), letter)


class Wire:
    """A server as a process, and messages to and from it."""

    def __init__(self, command: list[str]) -> None:
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT, env=ENVIRONMENT
        )
        self.version = 0

    def send(self, method: str, params: Any, number: int | None = None) -> None:
        message = {"jsonrpc": "2.0", "method": method, "params": params} | ({} if number is None else {"id": number})
        body = json.dumps(message).encode()
        assert self.process.stdin is not None
        self.process.stdin.write(b"Content-Length: %d\r\n\r\n%b" % (len(body), body))
        self.process.stdin.flush()

    def receive(self) -> dict[str, Any]:
        assert self.process.stdout is not None
        size = 0
        while (line := self.process.stdout.readline()).strip():
            if line.startswith(b"Content-Length:"):
                size = int(line.split(b":")[1])
        if not size:
            raise SystemExit("the server has ended")
        message: dict[str, Any] = json.loads(self.process.stdout.read(size))
        return message

    def start(self, text: str) -> None:
        """Until the first diagnostics are there."""
        self.send("initialize", {"processId": None, "rootUri": None, "capabilities": {}}, 0)
        while self.receive().get("id") != 0:
            pass
        self.send("initialized", {})
        self.version = 1
        item = {"uri": URI, "languageId": "toml", "version": 1, "text": text}
        self.send("textDocument/didOpen", {"textDocument": item})
        self.told()

    def told(self) -> None:
        while True:
            message = self.receive()
            if message.get("method") == "textDocument/publishDiagnostics":
                params = message["params"]
                if params["uri"] == URI and params.get("version") == self.version:
                    return

    def spent(self) -> float:
        """Seconds of the processor so far, of all threads; 0 where the system does not tell."""
        tasks = Path(f"/proc/{self.process.pid}/task").glob("*/schedstat")
        return sum(int(task.read_text().split()[0]) for task in tasks) / 1e9

    def press(self, key: dict[str, Any]) -> tuple[float, float]:
        """Seconds until its diagnostics, by the clock and by the processor."""
        self.version += 1
        before, start = self.spent(), perf_counter()
        self.send(
            "textDocument/didChange", {"textDocument": {"uri": URI, "version": self.version}, "contentChanges": [key]}
        )
        self.told()
        return perf_counter() - start, self.spent() - before

    def stop(self) -> None:
        self.send("shutdown", None, 1)
        while self.receive().get("id") != 1:
            pass
        self.send("exit", None)
        self.process.wait(timeout=10)


def typing(text: str, count: int) -> dict[str, list[tuple[float, float]]]:
    wires = {name: Wire(command) for name, command in SERVERS.items()}
    for wire in wires.values():
        wire.start(text)
    sleep(WARM)
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in wires}
    for _, key in zip(range(count), keys(text), strict=False):
        for name, wire in wires.items():
            times[name].append(wire.press(key))
    for wire in wires.values():
        wire.stop()
    return times


def starting(text: str) -> dict[str, list[float]]:
    times: dict[str, list[float]] = {name: [] for name in SERVERS}
    for round in range(STARTS + 1):
        for name, command in SERVERS.items():
            start = perf_counter()
            wire = Wire(command)
            wire.start(text)
            if round:  # the first writes byte code
                times[name].append(perf_counter() - start)
            wire.stop()
    return times


def crowded(text: str) -> dict[str, float]:
    """Sixty keys at once, and then with four requests each: from the last one to its diagnostics, medians of BURSTS."""
    found = {}
    for name, methods in (("alone", ()), ("with requests", REQUESTS)):
        times = []
        for _ in range(BURSTS):
            wire = Wire(SERVERS["setuplint"])
            wire.start(text)
            for key in islice(keys(text), 60):
                wire.version += 1
                document = {"uri": URI, "version": wire.version}
                start = perf_counter()
                wire.send("textDocument/didChange", {"textDocument": document, "contentChanges": [key]})
                for number, method in enumerate(methods):
                    wire.send(method, {"textDocument": document, "range": SCREEN}, 4 * wire.version + number)
            wire.told()
            times.append(perf_counter() - start)
            wire.process.kill()
        found[name] = median(times)
    return found


def line(what: str, ours: float, floor: float, aim: str = "") -> str:
    return f"{what:<46} {ours * 1000:7.1f} ms   {floor * 1000:6.1f} ms   {ours / floor:6.1f} {aim}"


def keys_lines(text: str, count: int, aim: int) -> Iterator[str]:
    times = typing(text, count)
    lines = text.count("\n")
    for n, clock in enumerate(("clock", "processor")):
        ours, floor = ([each[n] for each in times[name]] for name in ("setuplint", "empty"))
        if not sum(ours):
            return
        yield line(f"a key, {lines:,} lines, median, {clock}", median(ours), median(floor))
        late = [quantiles(found, n=20)[-1] for found in (ours, floor)]
        yield line(f"a key, {lines:,} lines, 95 %, {clock}", *late, f"  (aim: {aim})")
        first = [quantiles(found[:ROUND], n=20)[-1] for found in (ours, floor)]
        yield line(f"a key, {lines:,} lines, 95 % of the first {ROUND}, {clock}", *first)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else KEYS
    small, big = SMALL.read_text(encoding="utf-8"), large(2000)
    print(f"{'':<46} {'setuplint':>10}   {'empty':>9}   {'ratio':>6}")
    for text, aim in ((small, 4), (big, 20)):
        for each in keys_lines(text, count, aim):
            print(each)
        lines = text.count("\n")
        burst = {name: f"{found * 1000:.0f} ms" for name, found in crowded(text).items()}
        print(f"sixty keys at once, {lines:,} lines: {burst['alone']}, with 240 requests {burst['with requests']}")
    middle = {name: median(found) for name, found in starting(small).items()}
    print(line("start to first diagnostics, median", middle["setuplint"], middle["empty"], "  (aim: 1.1)"))


if __name__ == "__main__":
    main()
