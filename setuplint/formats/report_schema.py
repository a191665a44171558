"""The layout of the JSON report, as a JSON Schema (2020-12)."""

from __future__ import annotations

from setuplint.findings import SIGNALS

Schema = dict[str, object]


def report_schema() -> Schema:
    """What `setuplint lint --format json` writes."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:setuplint:report:1",
        "title": "What setuplint found",
        **_object(
            {
                "version": {
                    "const": 1,
                    "description": "Of this layout. Keys may be added within it: pass over those you do not know.",
                },
                "findings": _list(_finding(), "By file, in the order of the file."),
                "not-judged": _list(
                    _object(
                        {
                            "rule": _text("The rule that could not be decided."),
                            "because": _text("What would let it be: a key that is not given, a part that is broken."),
                            "subject": _text("What it would be about; empty for the whole setup."),
                            "file": _text("The setup's path as given."),
                        }
                    ),
                    "Rules that a setup leaves open. No findings.",
                ),
                "waived": _list(_covered(), "Findings that a waiver covers."),
                "remarks": _list(
                    _object(
                        {
                            **_place(),
                            "kind": {
                                "enum": ["ends-soon", "refused"],
                                "description": "ends-soon: within 30 days; refused: setuplint.toml lets nothing waive that.",
                            },
                            "message": _text("In words."),
                        }
                    ),
                    "Remarks about waivers; they fail nothing.",
                ),
                "baselined-dangers": _list(_kept(), "Findings with the signal word danger that the baseline holds."),
                "gone-from-baseline": _list(_kept(), "What the baseline holds, and is no longer found."),
                "summary": _summary(),
            }
        ),
    }


def _finding() -> Schema:
    return _object(
        {
            "rule": _text("Its name; `setuplint explain RULE` has its page."),
            "signal": {
                "enum": list(SIGNALS),
                "description": "danger: someone can be hurt; caution: craft or pack can be lost; notice: the rest.",
            },
            "message": _text("In a pilot's words, with the numbers in it."),
            "status": {"enum": ["proved", "advice"], "description": "advice: a rule of thumb, or from estimates."},
            "setup": _text("The setup's path as given."),
            **_region(),
            "caption": _text("What is there; may be empty."),
            "related": _list(_object({**_region(), "caption": _text("What is there.")}), "Other places."),
            "subject": _text("The part that the finding is about."),
            "witness": _moves("The controls that matter and how they stand: a state in which it happens."),
            "steps": _list(
                _moves("The controls moved in this step; in the first, at power-up, those that are not at rest."),
                "The way from power-up to the witness, which is the last step; empty where the past does not matter.",
            ),
            "outputs": {
                "type": "object",
                "additionalProperties": _number("Percent, -150 to 150."),
                "description": "What channels put out in the witness; a motor's -100 is 0 on the scale from 0 to 100.",
            },
            "motors": _list({"type": "string"}, "Which of the outputs drive a motor."),
            "assumed": _list({"type": "string"}, "Which of several meanings is taken: a tie, a smoothing."),
            "then": _text("What happens next, for a question about a movement or a time; may be empty."),
            "estimate": _text("Arithmetic on estimates that goes with it, such as a height; no proof; may be empty."),
            "why": _text("Why it matters."),
            "remedy": _text("What to do about it."),
            "edit": {
                "description": "A mechanical remedy: the value, in TOML, to give to the key at the path.",
                "anyOf": [
                    {"type": "null"},
                    _object(
                        {
                            "path": _list({"type": ["string", "integer"]}, "Keys; items of a list from 0."),
                            "value": _text("TOML."),
                        }
                    ),
                ],
            },
            "waiver": {
                "description": "The waiver that covers it: in an audit, in which waivers hide nothing; else null.",
                "anyOf": [{"type": "null"}, _object({"reason": _text("Why it is accepted."), "until": _until()})],
            },
            "fingerprint": {
                "type": "string",
                "pattern": "^[0-9a-f]{16}$",
                "description": "The same while rule, file and subject are; moved lines do not change it.",
            },
        }
    )


def _summary() -> Schema:
    return _object(
        {
            "files": _count("Setups that were linted."),
            "found": _object({signal: _count(f"Findings with the signal word {signal}.") for signal in SIGNALS}),
            "fail-on": {"enum": list(SIGNALS), "description": "The least signal that fails the run."},
            "mixed": {"type": "boolean", "description": "Folders have different ones; fail-on is the strictest."},
            "failing": _count("Findings at or above it."),
            "below": _count("Findings below it."),
            "waived": {
                "type": "object",
                "additionalProperties": _count("How many."),
                "description": "Findings that a waiver covers, by rule.",
            },
            "audit": {"type": "boolean", "description": "Whether this was an audit, in which waivers hide nothing."},
            "baselined": _object({signal: _count(f"Findings with {signal} in the baseline.") for signal in SIGNALS}),
            "baseline-written": {
                "description": "What was done to the baseline's file; null where it was not written.",
                "anyOf": [
                    {"type": "null"},
                    _object(
                        {
                            "file": _text("Its path."),
                            "added": _count("Findings put into it."),
                            "left-out": _count("Entries left out of it: they are no longer found."),
                        }
                    ),
                ],
            },
            "rule-sets": _list(
                _object(
                    {
                        "edition": {"type": "integer", "description": "Of the rule set."},
                        "pinned": {
                            "type": "boolean",
                            "description": "setuplint.toml asks for it; else it is the newest.",
                        },
                        "config": {"type": ["string", "null"], "description": "The setuplint.toml that was used."},
                        "files": _count("Setups that were judged by these."),
                    }
                ),
                "By what the setups were judged.",
            ),
            "not-judged": _count("Entries of not-judged."),
            "states": _count("States of the controls that the verdicts cover, summed over the setups."),
            "rules": _count("Rules that were decided: the most for one setup."),
            "shared-parts": _count("Files that setups extend: looked through for their own mistakes."),
            "extending": _count("Setups that were linted because they extend a shared part that was given."),
            "passed-over": _count("TOML files that are not setups, found in folders."),
            "links-not-followed": _count("Links that lead out of a folder that was given."),
            "troubles": _list({"type": "string"}, "What could not be read, and why: status 2."),
            "caution": _text("What a result does not say."),
        }
    )


def _covered() -> Schema:
    return _object(
        {
            **_place("Where the waiver is."),
            "rule": _text("The rule."),
            "subject": _text("The part that the finding is about."),
            "signal": {"enum": list(SIGNALS), "description": "Of the finding."},
            "message": _text("Of the finding."),
            "reason": _text("Why it is accepted."),
            "until": _until(),
        }
    )


def _kept() -> Schema:
    return _object(
        {
            "file": _text("The setup's path."),
            "rule": _text("The rule."),
            "subject": _text("The part that the finding is about."),
            "signal": {"enum": list(SIGNALS), "description": "Of the finding."},
            "message": _text("Of the finding."),
        }
    )


def _place(file: str = "The file.") -> dict[str, object]:
    return {
        "file": _text(file),
        "line": {"type": "integer", "minimum": 1, "description": "From 1."},
        "column": {"type": "integer", "minimum": 1, "description": "From 1, in code points."},
    }


def _until() -> Schema:
    return {"type": ["string", "null"], "description": "The last day on which the waiver holds; null: without an end."}


def _object(properties: dict[str, object]) -> Schema:
    return {"type": "object", "properties": properties, "required": list(properties)}


def _list(items: Schema, description: str) -> Schema:
    return {"type": "array", "items": items, "description": description}


def _text(description: str) -> Schema:
    return {"type": "string", "description": description}


def _number(description: str) -> Schema:
    return {"type": "number", "description": description}


def _count(description: str) -> Schema:
    return {"type": "integer", "minimum": 0, "description": description}


def _region() -> dict[str, object]:
    return {
        "file": _text("The file that the place is in: the setup's own, or a shared part that it extends."),
        "line": {"type": "integer", "minimum": 1, "description": "From 1."},
        "column": {"type": "integer", "minimum": 1, "description": "From 1, in code points."},
        "end-line": {"type": "integer", "minimum": 1, "description": "The line in which the span ends."},
        "end-column": {"type": "integer", "minimum": 1, "description": "The first column past the span."},
    }


def _moves(description: str) -> Schema:
    return {"type": "object", "additionalProperties": {"type": ["string", "number"]}, "description": description}
