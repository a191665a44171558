"""A club's repository of a thousand setups: half are from twenty templates with a name and a number of their own, a third are one
or two numbers away from another pilot's, the rest are strangers: eight other numbers, other names, another order, and equal
formulas written otherwise.

Printed is how many a second one lint of the folder takes, with all cores by the clock and with one by the processor's time, which
does not hang on what else the machine does; the peer, in the same run, is check-jsonschema over the same files by our own
schema, which looks at shape alone. The aim is its rate.

    python -m tests.benchmarks.club [COUNT]
"""

from __future__ import annotations

import gc
import io
import json
import os
import random
import re
import resource
import subprocess
import sys
import tempfile
import tomllib
from contextlib import redirect_stdout
from pathlib import Path
from time import perf_counter, process_time

import tomli_w

from setuplint.cli import NEW_OBJECTS, lint_file, lint_run, main
from setuplint.library import load_text
from setuplint.setup.schema import json_schema
from tests.compare.rewritten import Names, renamed, reordered, rewritten

ROOT = Path(__file__).parent.parent.parent
COUNT = 1000
TEMPLATES = 20
NUMBER = re.compile(r"(?<![\w.-])[-+]?\d+(\.\d+)?(?![\w.-])")


def club(count: int) -> dict[str, str]:
    """The texts by their names, the same in every run."""
    chance = random.Random(2026)
    found = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "examples").glob("*.toml"))]
    safe = [text for text in found if "[craft]" in text and "extends" not in text]
    templates = [changed(safe[n % len(safe)], chance, 3) for n in range(TEMPLATES)]
    pilots = [changed(templates[n % TEMPLATES], chance, 1) for n in range(count // 2)]
    edited = [changed(chance.choice(pilots), chance, 1 + n % 2) for n in range(count // 3)]
    strangers = [stranger(safe[n % len(safe)], n) for n in range(count - len(pilots) - len(edited))]
    texts = [*pilots, *edited, *strangers]
    chance.shuffle(texts)
    return {f"pilot-{n % 97:02}/craft-{n:04}.toml": named(text, n) for n, text in enumerate(texts)}


def changed(text: str, chance: random.Random, count: int) -> str:
    """The text with so many numbers a little changed, so that it can still be read."""
    for _ in range(count):
        before = text
        while text == before or load_text(text).problems:
            text = changed_once(before, chance)
    return text


def changed_once(text: str, chance: random.Random) -> str:
    lines = text.split("\n")
    spots = [n for n, line in enumerate(lines) if re.match(r"(?!#|format)[^=]*=", line) and NUMBER.search(line)]
    n = chance.choice(spots)
    key, _, value = lines[n].partition("=")
    match = chance.choice(list(NUMBER.finditer(value)) or [None])
    if match is not None:
        lines[n] = f"{key}={value[: match.start()]}{nudged(match[0], chance)}{value[match.end() :]}"
    return "\n".join(lines)


def nudged(number: str, chance: random.Random) -> str:
    places = len(number.partition(".")[2])
    return f"{float(number) + chance.choice((-2, -1, 1, 2)) * 10**-places:.{places}f}"


def stranger(text: str, number: int) -> str:
    """Another pilot's of the same kind of craft: eight numbers, every formula, every name and the order are another."""
    file = rewritten(tomllib.loads(changed(text, random.Random(number), 8)), number, strange=False)
    return tomli_w.dumps(reordered(renamed(file, Names(file)), number))


def named(text: str, number: int) -> str:
    return re.sub(r'^name = ".*"$', f'name = "Craft {number}"', text, count=1, flags=re.M)


def seconds(folder: str) -> tuple[float, float]:
    """By the clock, and of this process."""
    lint_file.kept_answers.cache_clear()
    start, begun = perf_counter(), process_time()
    with redirect_stdout(io.StringIO()) as out:
        status = main(["lint", folder])
    took = perf_counter() - start, process_time() - begun
    if status not in (0, 1):
        raise SystemExit(f"status {status}\n{out.getvalue()[-2000:]}")
    return took


def peer(folder: Path) -> tuple[float, float]:
    """The same of check-jsonschema."""
    schema = folder / "schema.json"
    schema.write_text(json.dumps(json_schema()), encoding="utf-8")
    start, before = perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [Path(sys.executable).parent / "check-jsonschema", "--schemafile", schema]
    subprocess.run([*command, *folder.rglob("*.toml")], check=False, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return perf_counter() - start, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def run(count: int = COUNT) -> None:
    gc.set_threshold(NEW_OBJECTS)  # as the command has it
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file, text in club(count).items():
            (folder / file).parent.mkdir(exist_ok=True)
            (folder / file).write_text(text, encoding="utf-8")
        together, _ = seconds(name)
        shape, shape_alone = peer(folder)
        lint_run.MANY = count + 1
        _, alone = seconds(name)
    print(f"{os.cpu_count()} cores           {count / together:7.0f} setups a second")
    print(f"one process       {count / alone:7.0f} a second of the processor")
    print(f"check-jsonschema  {count / shape:7.0f} (one process), {count / shape_alone:.0f} a second of the processor")
    print(f"ratio             {shape / together:7.2f} (aim: 1), one process to one {shape_alone / alone:.2f}")


if __name__ == "__main__":
    sys.exit(run(*map(int, sys.argv[1:])))
