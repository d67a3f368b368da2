"""The layout of findings.json as a JSON Schema: what a program that reads it may rely on."""

from typing import Any, get_args

from print3d.checks.finding import VERDICTS, Sense
from print3d.language.catalogue import LANGUAGES
from print3d.output.findings_json import LAYOUT

Schema = dict[str, Any]
TEXT, NUMBER, FLAG = {"type": "string"}, {"type": "number"}, {"type": "boolean"}
OPTIONAL_TEXT, OPTIONAL_NUMBER = {"type": ["string", "null"]}, {"type": ["number", "null"]}
PLACE = {"type": ["array", "null"], "items": NUMBER, "minItems": 3, "maxItems": 3}
MESSAGE = {"$ref": "#/$defs/message"}
OPTION_VALUE = {"type": ["number", "string"]}


def findings_schema() -> Schema:
    """Return the JSON Schema of findings.json."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": LAYOUT,
        **_table(
            layout={"const": LAYOUT},
            language={"enum": list(LANGUAGES)},
            case=TEXT,
            side={"enum": ["left", "right"]},
            finger=TEXT,
            kind=TEXT,
            frame=TEXT,
            override={"type": ["object", "null"]},
            version=TEXT,
            holds=FLAG,
            findings=_list(_finding()),
            parts={
                "type": "object",
                "additionalProperties": _table(sha256=TEXT, triangles=NUMBER, volume_mm3=NUMBER),
            },
            print=_list({"type": "object"}),
            advice=_list(_advice()),
        ),
        "$defs": {"message": _table(key=TEXT, values={"type": "object"})},
    }


def _finding() -> Schema:
    """One finding: `key` with `part`, `joint` and `of` stays the same when numbers change."""
    ends = {"type": ["number", "array"], "items": NUMBER, "minItems": 2, "maxItems": 2}
    return _table(
        key=TEXT,
        check=TEXT,
        part=OPTIONAL_TEXT,
        joint=OPTIONAL_TEXT,
        of={"type": "object", "additionalProperties": TEXT},
        values={"type": "object"},
        measured=NUMBER,
        limit=ends,
        unit=TEXT,
        sense={"enum": list(get_args(Sense))},
        watch=OPTIONAL_NUMBER,
        margin=NUMBER,
        verdict={"enum": list(VERDICTS)},
        holds=FLAG,
        is_watched=FLAG,
        where=PLACE,
        source=MESSAGE,
        how=_list(MESSAGE),
        words=_table(what=TEXT, how=TEXT, source=TEXT),
    )


def _advice() -> Schema:
    """One change that was tried, and the finding that it makes hold."""
    return _table(
        finding=TEXT,
        part=OPTIONAL_TEXT,
        joint=OPTIONAL_TEXT,
        of={"type": "object", "additionalProperties": TEXT},
        option=TEXT,
        now=OPTION_VALUE,
        then=OPTION_VALUE,
        measured=NUMBER,
        unit=TEXT,
    )


def _table(**fields: Schema) -> Schema:
    return {"type": "object", "required": sorted(fields), "properties": fields, "additionalProperties": False}


def _list(of: Schema) -> Schema:
    return {"type": "array", "items": of}
