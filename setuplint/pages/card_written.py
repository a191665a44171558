"""A bench card as a page to print and tick, as Markdown, and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import count

from setuplint.bench.card_model import Card, CardStep, Row
from setuplint.formats.markdown_text import escaped
from setuplint.formats.numbers import json_number
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.pages.card import CAREFUL, Box, CardText, Cell, RowText, StageText, about
from setuplint.pages.html import page, table, tag, text

SHOWN = "What this card shows"
LEFT = "What it cannot show"
PROVED = "Each was found in a step by the evaluator that knows nothing of how the steps were chosen: none is missing."


def as_html(card: CardText) -> str:
    head = tag("h1", text(f"{card.craft}: bench card"))
    head += tag("p", " · ".join(tag("span", text(each)) for each in about(card)), class_="soft")
    head += tag("p", text(CAREFUL), class_="careful")
    head += tag("p", tag("strong", text(card.warning)), class_="careful bad") if card.warning else ""
    head += tag("ul", "".join(tag("li", text(each)) for each in card.guide), class_="guide")
    body = "".join(_part(number, part) for number, part in enumerate(card.parts, start=1))
    end = tag("h2", SHOWN) + tag("p", text(_covers(card)))
    if card.left:
        end += tag("h3", LEFT) + tag("ul", "".join(tag("li", text(each)) for each in card.left))
    done = "".join(tag("p", f"{text(what)} {tag('span', '', class_='blank long')}") for what in ("Checked by", "On"))
    main = tag("main", f"{tag('header', head)}{body}{tag('section', end + done)}")
    return page(f"{card.craft}: bench card", main, styles=("card.css",))


def _covers(card: CardText) -> str:
    return f"{card.boxes} boxes show {card.covers}{', all that the file has' if not card.left else ''}. {PROVED}"


def _part(number: int, part: StageText) -> str:
    inner = tag("h2", text(f"{number}. {part.title}"))
    inner += tag("p", text(part.note), class_="soft") if part.note else ""
    return tag("section", inner + tag("div", "".join(map(_box, part.boxes)), class_="boxes"), class_="stage")


def _box(box: Box) -> str:
    name = f"Box {box.number} done"
    mark = f'<input type="checkbox" aria-label="{text(name)}">' + tag("span", str(box.number), class_="nth")
    star = tag("span", "★", title="to repeat after any change", role="img", aria_label="to repeat after any change")
    inner = tag("h3", text(box.title) + (f" {star}" if box.again else ""))
    inner += "".join(tag("p", text(each), class_="soft") for each in box.before)
    inner += _table(box) if box.lines else ""
    inner += "".join(tag("p", text(each)) for each in box.after)
    inner += "".join(_blank(*each) for each in box.blanks)
    inner += tag("p", f"{tag('b', 'Then')} {text(box.then)}.", class_="then") if box.then else ""
    inner += tag("p", f"Shows: {text(box.shows)}.", class_="shows") if box.shows else ""
    short = box.channels == () and len(box.after) < 2
    class_ = f"box{' again' if box.again else ''}{' short' if short else ''}"
    return tag("article", tag("div", mark, class_="mark") + tag("div", inner, class_="what"), class_=class_)


def _blank(what: str, said: str) -> str:
    return tag("p", f"{text(what)}: {tag('span', '', class_='blank')} {tag('span', text(said), class_='soft')}")


def _table(box: Box) -> str:
    if len(box.channels) > WIDE:  # a row for each of many channels
        heads = ["Channel", *(f"{text(line.do)}{_also(line)}" for line in box.lines)]
        columns = zip(*(map(_reading, line.cells) for line in box.lines), strict=True)
        rows = [[text(name), *cells] for name, cells in zip(box.channels, columns, strict=True)]
        return table(heads, rows, f"Box {box.number}", class_="reads long")
    if not box.channels:
        return "".join(tag("p", f"{text(line.do)}:{_also(line)}.") for line in box.lines)
    rows = [[f"{text(line.do)}{_also(line)}", *map(_reading, line.cells)] for line in box.lines]
    return table(["Do this", *map(text, box.channels)], rows, f"Box {box.number}", class_="reads")


WIDE = 5  # channels side by side on a sheet of paper


def _also(line: RowText) -> str:
    words = ", ".join(map(text, line.also))
    if not words:
        return ""
    return " " + tag("span", words, class_="also signal danger" if line.danger else "also")


def _reading(cell: Cell) -> str:
    first, *scales = cell
    small = f" {tag('small', text(' · '.join(scales)))}" if scales[0] else ""
    return tag("span", text(first), class_="put") + small


# -- Markdown


def as_markdown(card: CardText) -> str:
    lines = [f"# {_safe(card.craft)}: bench card", "", " · ".join(map(_safe, about(card))), "", f"**{CAREFUL}**", ""]
    if card.warning:
        lines += [f"**{_safe(card.warning)}**", ""]
    lines += [*(f"- {_safe(each)}" for each in card.guide), ""]
    for number, part in enumerate(card.parts, start=1):
        lines += [f"## {number}. {_safe(part.title)}", ""]
        lines += [_safe(part.note), ""] if part.note else []
        for box in part.boxes:
            lines += [*_marked(box), ""]
    lines += [f"## {SHOWN}", "", _safe(_covers(card)), ""]
    if card.left:
        lines += [f"### {LEFT}", "", *(f"- {_safe(each)}" for each in card.left), ""]
    return "\n".join(lines)


def _marked(box: Box) -> Iterator[str]:
    star = "★ " if box.again else ""
    yield f"- [ ] **{box.number}. {star}{_safe(box.title)}**"
    for each in box.before:
        yield f"  {_safe(each)}"
    if box.channels:
        yield ""
        yield "  | " + " | ".join(["Do this", *map(_safe, box.channels)]) + " |"
        yield "  |" + " --- |" * (len(box.channels) + 1)
        for line in box.lines:
            also = f" ({', '.join(line.also)})" if line.also else ""
            yield "  | " + " | ".join([_safe(line.do + also), *map(_joined, line.cells)]) + " |"
        yield ""
    else:
        for line in box.lines:
            yield f"  {_safe(line.do)}: {_safe(', '.join(line.also))}."
    for each in box.after:
        yield f"  {_safe(each)}"
    for what, said in box.blanks:
        yield f"  {_safe(what)}: \\_\\_\\_\\_\\_\\_ {_safe(said)}"
    if box.then:
        yield f"  Then {_safe(box.then)}."
    if box.shows:
        yield f"  Shows: {_safe(box.shows)}."


def _joined(cell: Cell) -> str:
    """Numbers, and words of ours: nothing of a file to be escaped."""
    return _spaced(", ".join(filter(None, cell)))


def _safe(words: str) -> str:
    return escaped(words.replace(FIXED_SPACE, " "))


# -- JSON


def as_json(card: CardText, made: Card) -> str:
    """Version 1: every box with its words, and every channel's reading in each row as numbers."""
    steps = {step.number: step for step in made.steps}
    numbers = count(1)
    return (
        json.dumps(
            {
                "version": 1,
                "craft": card.craft,
                "file": card.file,
                "date": card.day,
                "fingerprint": card.fingerprint,
                "careful": CAREFUL,
                "warning": card.warning or None,
                "guide": _plain(card.guide),
                "boxes": card.boxes,
                "movements": made.movements,
                "stages": [
                    {
                        "stage": next(numbers),
                        "key": part.key,
                        "title": part.title,
                        "note": part.note,
                        "boxes": [_box_json(box, steps[box.number], made) for box in part.boxes],
                    }
                    for part in card.parts
                ],
                "shows": card.covers,
                "left": list(card.left),
            },
            indent=1,
        )
        + "\n"
    )


def _box_json(box: Box, step: CardStep, made: Card) -> dict[str, object]:
    return {
        "number": box.number,
        "key": step.key,
        "again": box.again,
        "title": box.title,
        "before": _plain(box.before),
        "rows": [_row_json(line, row, made) for line, row in zip(box.lines, step.rows, strict=True)],
        "after": _plain(box.after),
        "measure": [{"what": what, "said": _spaced(said)} for what, said in box.blanks],
        "then": _spaced(box.then),
        "shows": ["/".join(filter(None, item.key)) for item in step.shows],
    }


def _row_json(line: RowText, row: Row, made: Card) -> dict[str, object]:
    craft = made.setup.craft
    controls = {**row.state.positions, **row.state.sticks, **row.state.readings}
    return {
        "do": _spaced(line.do),
        "kind": row.kind,
        "controls": {name: where if isinstance(where, str) else json_number(where) for name, where in controls.items()},
        "trims": {name: json_number(amount) for name, amount in row.state.trim.items()},
        "remembered": sorted(row.memory.on),
        "mode": row.mode,
        "alarms": list(row.alarms),
        "timers": list(row.timers),
        "readings": {
            name: {
                "percent": [json_number(value) for value in reading.values],
                "of-100": [json_number((value + 100) / 2) for value in reading.values],
                "pulse-us": [json_number(craft.pulse_centre + craft.pulse_per_percent * v) for v in reading.values],
                "range": reading.between,
                "word": reading.word or None,
            }
            for name, reading in row.readings.items()
        },
        "also": _plain(line.also),
    }


def _plain(words: tuple[str, ...]) -> list[str]:
    return [_spaced(each) for each in words]


def _spaced(words: str) -> str:
    return words.replace(FIXED_SPACE, " ")
