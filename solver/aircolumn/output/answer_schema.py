"""What --json prints, as JSON Schema (draft 2020-12). The version grows when something goes or changes its
meaning, not when something is added."""

from __future__ import annotations

from typing import Any

FORMAT, VERSION = "aircolumn answer", 1

NUMBER = {"type": ["number", "null"]}
TEXT = {"type": "string"}
OR_NOTHING = {"type": ["string", "null"]}


def array_of(items: Any) -> dict:
    """A list of like things."""
    return {"type": "array", "items": items}


def by_name(value: Any) -> dict:
    """A mapping from names to like things."""
    return {"type": "object", "additionalProperties": value}


def group(required: dict[str, Any], **optional: Any) -> dict:
    """An object with these keys, and no others."""
    keys = {**required, **optional}
    return {"type": "object", "properties": keys, "required": list(required), "additionalProperties": False}


def or_null(value: Any) -> dict:
    """What may be missing."""
    return {"anyOf": [value, {"type": "null"}]}


NUMBERS = array_of(NUMBER)
EXPONENTS = group({"compression": NUMBER, "expansion": NUMBER})
RANGE = group({"words": TEXT, "pieces": array_of(NUMBERS)})
#: Computed speeds between which a hump or crossing lies; null where it is well located.
BETWEEN = or_null(NUMBERS)
POINT = or_null(group({"rpm": NUMBER, "value": NUMBER, "between": BETWEEN}))
TABLE = group(
    {
        "coordinates": by_name({"type": "array"}),
        "figures": by_name(group({"unit": TEXT, "meaning": TEXT, "over": array_of(TEXT), "values": {}})),
    }
)
INTERVAL = {"low": NUMBERS, "own": NUMBERS, "high": NUMBERS, "middle": NUMBERS}
FAILURE = group({"runner": TEXT, "rpm": NUMBER, "reason": TEXT})
CURVES = group(
    {
        "range": RANGE,
        "winner": OR_NOTHING,
        "runners": by_name(
            group({"mean_torque": NUMBER, "peak_ve": POINT, "peak_torque": POINT, "peak_power": POINT})
        ),
        "standard": TEXT,
        "crossings": array_of(group({"runners": array_of(TEXT), "rpm": NUMBER, "between": BETWEEN})),
        "against": array_of(
            group(
                {
                    "runner": TEXT,
                    "base": TEXT,
                    "rpm": NUMBERS,
                    "torque": NUMBERS,
                    "over": array_of(group({"range": RANGE, "torque": NUMBER, "share": NUMBER})),
                }
            )
        ),
        "failures": array_of(FAILURE),
        "curves": TABLE,
    }
)
STATE = {"enum": ["ahead", "behind", "level", "open"]}
BANDS = group(
    {
        "cases": {"type": "integer"},
        "range": RANGE,
        "choice": TEXT,
        "best": by_name(NUMBER),
        "doubt": NUMBER,
        "cost_of_a_wrong_choice": NUMBER,
        "base": TEXT,
        "rpm": NUMBERS,
        "bands": by_name(group(INTERVAL)),
        "against": array_of(
            group(
                {
                    "runner": TEXT,
                    "base": TEXT,
                    "at": group(INTERVAL),
                    "states": array_of(STATE),
                    "over": array_of(
                        group(
                            {
                                "range": RANGE,
                                "low": NUMBER,
                                "own": NUMBER,
                                "high": NUMBER,
                                "middle": NUMBER,
                                "share": NUMBER,
                                "state": STATE,
                            }
                        )
                    ),
                }
            )
        ),
        "measure_next": array_of(group({"key": TEXT, "settle": TEXT, "after": NUMBER})),
        "error_of_bands": NUMBER,
        "error_of_differences": NUMBER,
        "lost_cases": array_of(TEXT),
    }
)
REASON = group(
    {
        "kind": TEXT,
        "rpm": NUMBER,
        "ve": NUMBER,
        "between": BETWEEN,
        "verdict": TEXT,
        "figures": array_of(TEXT),
    }
)
STATED = group({"stated": TEXT, "why": TEXT, "at_the_wheels": {"type": "boolean"}})
NEXT = group(
    {
        "runner": TEXT,
        "measured": TEXT,
        "standard": TEXT,
        "rpm": NUMBERS,
        "torque": group(INTERVAL),
        "ratio": group(INTERVAL),
        "file_alone": group(INTERVAL),
        "cases": {"type": "integer"},
    }
)
DRIFT = group(
    {"per_pull": NUMBER, "half_width": NUMBER, "freedom": {"type": "integer"}, "steps": {"type": "integer"}}
)
PULL = group(
    {
        "standard": TEXT,
        "torque_stated": by_name(STATED),
        "drift": or_null(DRIFT),
        "next": or_null(NEXT),
        "pulls": TABLE,
        "ranges": by_name(or_null(by_name(by_name({})))),
        "winners": array_of(group({"from": NUMBER, "to": NUMBER, "who": TEXT})),
        "like_for_like": {"type": ["boolean", "null"]},
        "fitted": by_name(
            group({"value": NUMBER, "plus_minus": NUMBER, "joint_plus_minus": NUMBER, "judgement": TEXT})
        ),
    }
)
COLUMNS = group(
    {
        "logs": by_name(
            group(
                {
                    "usable": {"type": "boolean"},
                    "headings": array_of(
                        group(
                            {
                                "heading": TEXT,
                                "channel": {"type": ["string", "null"]},
                                "unit": TEXT,
                                "doubt": TEXT,
                            }
                        )
                    ),
                    "missing": by_name(TEXT),
                    "refused": TEXT,
                },
                torque=STATED,
                pulls=array_of(group({"lines": NUMBERS, "rows": {"type": "integer"}, "rpm": NUMBERS})),
                left_out=array_of(group({"lines": NUMBERS, "whole_row": {"type": "boolean"}, "why": TEXT})),
            )
        )
    }
)
STUDY = group(
    {
        "question": {"enum": ["sweep", "search", "sensitivity", "tolerance"]},
        "fresh_points": {"type": "integer"},
        "points_from_store": {"type": "integer"},
        "answer": {"type": "object"},
    }
)
PART = group(
    {
        "runner": TEXT,
        "kind": {"enum": ["runner", "bank", "manifold"]},
        "runners": {"type": "integer"},
        "length": NUMBER,
        "corners": array_of(NUMBERS),
        "radii": NUMBERS,
        "air_volume": NUMBER,
        "computed_volume": NUMBER,
        "material": NUMBER,
        "pieces": array_of(group({"from": NUMBER, "to": NUMBER, "sides": NUMBERS})),
    }
)
SCHEDULE = group(
    {
        "length": NUMBER,
        "distance": NUMBERS,
        "area": NUMBERS,
        "perimeter": NUMBERS,
        "volume": NUMBER,
        "volume_between_cuts": NUMBER,
    }
)
TRACES = group(
    {
        "rpm": NUMBER,
        "cycles": {"type": "integer"},
        "channels": by_name(
            group(
                {
                    "place": TEXT,
                    "distance": NUMBER,
                    "off_the_model": NUMBER,
                    "level_added": NUMBER,
                    "harmonics": array_of(
                        group(
                            {
                                "number": {"type": "integer"},
                                "measured": NUMBER,
                                "model": NUMBER,
                                "later": NUMBER,
                            }
                        )
                    ),
                }
            )
        ),
        "ringing": by_name(group({"measured": NUMBER, "model": NUMBER})),
        "cylinder": or_null(
            group(
                {
                    **dict.fromkeys(
                        (
                            "imep",
                            "imep_variation",
                            "imep_gross",
                            "peak_pressure",
                            "peak_angle",
                            "heat",
                            "heat_model",
                        ),
                        NUMBER,
                    ),
                    "exponents": EXPONENTS,
                    "exponents_model": EXPONENTS,
                    "burned_10_50_90": or_null(NUMBERS),
                    "burned_10_50_90_model": or_null(NUMBERS),
                    "burn": or_null(
                        group(
                            {
                                "ca50": NUMBER,
                                "duration_10_90": NUMBER,
                                "ca50_scatter": NUMBER,
                                "plus_minus": or_null(NUMBERS),
                            }
                        )
                    ),
                }
            )
        ),
        "explained": array_of(group({"cause": TEXT, "share": NUMBER, "value": NUMBER})),
        "dead_centre": or_null(group({"offset": NUMBER, "plus_minus": NUMBER})),
        "fitted": by_name(group({"value": NUMBER, "plus_minus": NUMBER})),
    }
)
UNSURE = group({"key": TEXT, "said": TEXT, "source": TEXT, "settle": TEXT})
#: what each command finds
RESULTS = {
    "curve": CURVES,
    "compare": CURVES,
    "bands": BANDS,
    "explain": group({"runners": by_name(array_of(REASON))}),
    "account": TABLE,
    "map": TABLE,
    "trace": {"anyOf": [TABLE, TRACES]},
    "change": TABLE,
    "pull": {"anyOf": [PULL, COLUMNS]},
    "study": STUDY,
    "logsheet": group(
        {
            "pulls_of_each": {"type": "integer"},
            "order": array_of(TEXT),
            "pulls": array_of({"type": "integer"}),
        }
    ),
    "part": PART,
    "sections": SCHEDULE,
    "atmosphere": by_name(group({"factor": NUMBER, "value": NUMBER, "unit": TEXT})),
    "check": group(
        {
            "candidates": by_name(group({"differs_in": array_of(TEXT), "runner_length": NUMBER})),
            "stated": array_of(UNSURE),
            "assumed": array_of(UNSURE),
            "doubts": array_of(TEXT),
        }
    ),
    "new": group({"file": TEXT}),
    "report": group({"page": TEXT}),
    "explore": group({"page": TEXT, "errors": by_name(NUMBER), "points": {"type": "integer"}}),
    "prepare": group({"kept_in": TEXT}),
    "schema": {"type": "object"},
}


def answer_schema() -> dict[str, Any]:
    """The schema of every answer."""
    common = {
        "format": {"const": FORMAT},
        "version": {"const": VERSION},
        "command": {"enum": list(RESULTS)},
        "program": TEXT,
        "text": TEXT,
        "result": {},
        "folder": {"type": ["string", "null"]},
        "files": array_of(TEXT),
        "missing_points": {"type": "integer"},
        "points": {"type": "integer"},
        "caution": TEXT,
    }
    each = [
        {
            "if": {"properties": {"command": {"const": name}}},
            "then": {"properties": {"result": result}},
        }
        for name, result in RESULTS.items()
    ]
    about = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What aircolumn prints with --json",
        "description": "Figures are SI, angles in degrees, speeds in rev/min; null: not known.",
    }
    return {**about, **group(common), "allOf": each}
