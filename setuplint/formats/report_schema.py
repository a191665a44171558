"""The layout of the JSON report, as a JSON Schema (2020-12)."""

from __future__ import annotations

from setuplint.findings import IN_FULL, SIGNALS
from setuplint.formats.passed_over import REASONS

Schema = dict[str, object]

# -- kinds of values


def _object(properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "required": list(properties)}


def _list(items: Schema, description: str) -> Schema:
    return {"type": "array", "items": items, "description": description}


def _map(values: Schema, description: str) -> Schema:
    return {"type": "object", "additionalProperties": values, "description": description}


def _text(description: str) -> Schema:
    return {"type": "string", "description": description}


def _flag(description: str) -> Schema:
    return {"type": "boolean", "description": description}


def _choice(choices: tuple[str, ...], description: str) -> Schema:
    return {"enum": list(choices), "description": description}


def _count(description: str) -> Schema:
    return {"type": "integer", "minimum": 0, "description": description}


def _place_number(description: str) -> Schema:
    return {"type": "integer", "minimum": 1, "description": description}


def _or_null(schema: Schema, description: str) -> Schema:
    return {"description": description, "anyOf": [{"type": "null"}, schema]}


def _moves(description: str) -> Schema:
    return _map({"type": ["string", "number"]}, description)


def _by_signal(description: str) -> Schema:
    return _object({signal: _count(description.format(signal)) for signal in SIGNALS})


# -- the layout

LINE = {"line": _place_number("From 1."), "column": _place_number("From 1, in code points.")}
REGION: Schema = {
    "file": _text("The file that the place is in: the setup's own, or a shared part that it extends."),
    **LINE,
    "end-line": _place_number("The line in which the span ends."),
    "end-column": _place_number("The first column past the span."),
}
UNTIL: Schema = {
    "type": ["string", "null"],
    "description": "The last day on which the waiver holds; null: without an end.",
}
SECONDS: Schema = {"type": "number", "description": "Seconds from power-up."}
TIMING = _object(
    {
        "at": _list(SECONDS, "When each of the steps is taken, one movement each."),
        "since": {"type": "number", "description": "Seconds from power-up: from then on it is as the finding says."},
        "until": {
            "anyOf": [
                {"type": "number", "description": "Seconds from power-up: until then."},
                {"type": "null", "description": "For good."},
            ]
        },
        "waits": _list(_text("A condition."), "Those that are late then, though their `when` holds."),
        "stays": _list(_text("A condition."), "Those that stay on then, though their `when` does not hold."),
    }
)
FINDING = _object(
    {
        "rule": _text("Its name; `setuplint explain RULE` has its page."),
        "signal": _choice(
            SIGNALS, "danger: someone can be hurt; caution: craft or pack can be lost; notice: the rest."
        ),
        "message": _text("In a pilot's words, with the numbers in it."),
        "status": _choice(("proved", "advice"), "advice: a rule of thumb, or from estimates."),
        "setup": _text("The setup's path as given."),
        **REGION,
        "caption": _text("What is there; may be empty."),
        "related": _list(_object({**REGION, "caption": _text("What is there.")}), "Other places."),
        "subject": _text("The part that the finding is about."),
        "witness": _moves("The controls that matter and how they stand: a state in which it happens."),
        "steps": _list(
            _moves("The controls moved in this step; in the first, at power-up, those that are not at rest."),
            "The way from power-up to the witness, which is the last step; empty where the past does not matter.",
        ),
        "timing": {"anyOf": [TIMING, {"type": "null"}]},
        "outputs": _map(
            {"type": "number", "description": "Percent, -150 to 150."},
            "What channels put out in the witness; a motor's -100 is 0 on the scale from 0 to 100.",
        ),
        "motors": _list({"type": "string"}, "Which of the outputs drive a motor."),
        "assumed": _list({"type": "string"}, "Which of several meanings is taken: a tie, a smoothing."),
        "then": _text("What happens next, for a question about a movement or a time; may be empty."),
        "estimate": _text("Arithmetic on estimates that goes with it, such as a height; no proof; may be empty."),
        "why": _text("Why it matters."),
        "remedy": _text("What to do about it."),
        "edit": _or_null(
            _object(
                {
                    "path": _list({"type": ["string", "integer"]}, "Keys; items of a list from 0."),
                    "value": _text("TOML."),
                }
            ),
            "A mechanical remedy: the value, in TOML, to give to the key at the path.",
        ),
        "waiver": _or_null(
            _object({"reason": _text("Why it is accepted."), "until": UNTIL}),
            "The waiver that covers it: in an audit, in which waivers hide nothing; else null.",
        ),
        "fingerprint": {
            "type": "string",
            "pattern": "^[0-9a-f]{16}$",
            "description": "The same while rule, file and subject are; moved lines do not change it.",
        },
    }
)
NOT_JUDGED = _object(
    {
        "rule": _text("The rule that could not be decided."),
        "because": _text("What would let it be: a key that is not given, a part that is broken."),
        "subject": _text("What it would be about; empty for the whole setup."),
        "file": _text("The setup's path as given."),
    }
)
ONLY_COUNTED = _object(
    {
        "file": _text("The setup's path as given."),
        "rule": _text("The rule."),
        "signal": _choice(SIGNALS, "Of the findings."),
        "number": _count("How many are not listed."),
    }
)
WAIVED = _object(
    {
        "file": _text("Where the waiver is."),
        **LINE,
        "rule": _text("The rule."),
        "subject": _text("The part that the finding is about."),
        "signal": _choice(SIGNALS, "Of the finding."),
        "message": _text("Of the finding."),
        "reason": _text("Why it is accepted."),
        "until": UNTIL,
    }
)
REMARK = _object(
    {
        "file": _text("The file."),
        **LINE,
        "kind": _choice(
            ("ends-soon", "refused", "changed", "loosens", "ramps", "start-warns", "supply-unknown", "power-guessed"),
            "ends-soon: within 30 days; refused: setuplint.toml lets nothing waive that; changed: a danger in the baseline is "
            "not what it was; loosens: what a setuplint.toml says does not count, as one further out is stricter; ramps: a "
            "claim is about where a channel goes, and its ramp takes longer than the patience; start-warns: the check at "
            "power-up can be waved away; supply-unknown: what gives the receiver its voltage is not given; "
            "power-guessed: an engine is taken for what turns the rotor.",
        ),
        "message": _text("In words."),
    }
)
IN_BASELINE = _object(
    {
        "file": _text("The setup's path."),
        "rule": _text("The rule."),
        "subject": _text("The part that the finding is about."),
        "signal": _choice(SIGNALS, "Of the finding."),
        "message": _text("Of the finding."),
    }
)
SUMMARY = _object(
    {
        "files": _count("Setups that were linted."),
        "found": _by_signal("Findings with the signal word {}, without those of not-decided."),
        "not-judged": _count("Entries of not-judged."),
        "not-decided": _count("Findings of the rule not-decided: what a budget left open."),
        "hidden": _object(
            {
                "waived": _count("Findings that a waiver covers."),
                "baselined": _count("Findings that the baseline holds."),
                "left-out": _count("Rules that an edition does not have: the most for one setup."),
                "only-counted": _count("Findings that are counted, and not listed."),
            }
        ),
        "fail-on": _choice(SIGNALS, "The least signal that fails the run."),
        "mixed": _flag("Folders have different ones; fail-on is the strictest."),
        "failing": _count("Findings at or above it, those of not-decided too."),
        "below": _count("Findings below it."),
        "danger-open": _count(
            "Setups with none that fails, in which not all rules about danger are judged: they fail too."
        ),
        "waived": _map(_count("How many."), "Findings that a waiver covers, by rule."),
        "audit": _flag("Whether this was an audit, in which waivers hide nothing."),
        "baselined": _by_signal("Findings with {} in the baseline."),
        "baseline-written": _or_null(
            _object(
                {
                    "file": _text("Its path."),
                    "added": _count("Findings put into it."),
                    "left-out": _count("Entries left out of it: they are no longer found."),
                }
            ),
            "What was done to the baseline's file; null where it was not written.",
        ),
        "rule-sets": _list(
            _object(
                {
                    "edition": {"type": "integer", "description": "Of the rule set."},
                    "pinned": _flag("setuplint.toml asks for it; else it is the newest."),
                    "config": {"type": ["string", "null"], "description": "The setuplint.toml that was used."},
                    "files": _count("Setups that were judged by these."),
                }
            ),
            "By what the setups were judged.",
        ),
        "states": _count("States of the controls that the verdicts cover, summed over the setups."),
        "rules": _count("Rules that were decided: the most for one setup."),
        "shared-parts": _count("Files that setups extend: looked through for their own mistakes."),
        "extending": _count("Setups that were linted because they extend a shared part that was given."),
        "neighbours": _count("Setups that were not given, and only compared with the given ones of their radios."),
        "passed-over": _count("Files and links that were not looked at: the list of that name has them."),
        "troubles": _list({"type": "string"}, "What could not be read, and why: status 2."),
        "caution": _text("What a result does not say."),
        "unlisted": _map(
            _count("How many."), f"Entries beyond the {IN_FULL} of a rule in a file that a list has, by list."
        ),
    }
)
PASSED_OVER = _object(
    {"file": _text("The file, or the link."), "because": _choice(tuple(REASONS), "Why.")},
)
VERSION: Schema = {
    "const": 1,
    "description": "Of this layout. Keys may be added within it: pass over those you do not know.",
}
REPORT = _object(
    {
        "version": VERSION,
        "findings": _list(
            FINDING,
            f"By file, the gravest first, then in the order of the file; at most {IN_FULL} of a rule in a file.",
        ),
        "not-judged": _list(NOT_JUDGED, "Rules that a setup leaves open. No findings."),
        "only-counted": _list(ONLY_COUNTED, f"Of which rules there are more than {IN_FULL} findings in a file."),
        "waived": _list(WAIVED, "Findings that a waiver covers."),
        "remarks": _list(REMARK, "Remarks about waivers and setuplint.toml; they fail nothing."),
        "baselined-dangers": _list(IN_BASELINE, "Findings with the signal word danger that the baseline holds."),
        "gone-from-baseline": _list(IN_BASELINE, "What the baseline holds, and is no longer found."),
        "passed-over": _list(PASSED_OVER, "What was not looked at, and why."),
        "summary": SUMMARY,
    }
)


def report_schema() -> Schema:
    """What `setuplint lint --format json` writes."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:setuplint:report:1",
        "title": "What setuplint found",
        **REPORT,
    }
