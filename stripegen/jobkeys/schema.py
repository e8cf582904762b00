"""The JSON Schema of job and preset files, made of the keys: draft 7, the newest that editors with TOML commonly take.

It refuses what can be seen to be wrong key by key; what depends on figures, names or several tables is left to `check`.
It never refuses what is right.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from stripegen.jobkeys import CUP, CUTTER, JOB, LINE, OFFCUT, ORDER, ORDERS, PATTERN, VINYL
from stripegen.jobkeys.forms import (
    Choice,
    Either,
    Form,
    Heading,
    Inline,
    Key,
    Length,
    Named,
    Pair,
    Plain,
    Rows,
    Several,
    Switch,
    TableKeys,
    Whole,
)
from stripegen.units import MM_PER_UNIT

Schema = dict[str, Any]

DRAFT = "http://json-schema.org/draft-07/schema#"
TITLE = "Job or preset file of stripegen"
NAME = "^[A-Za-z0-9_-]{1,64}$"
_FIGURE = r"(?:(?:[0-9]+ +)?[0-9]+ ?/ ?[0-9]+|[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_DECIMAL = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
LENGTH = rf"^\s*[+-]?{_FIGURE} *(?:{'|'.join(MM_PER_UNIT)})\s*$"
SHARE = rf"^\s*[+-]?{_DECIMAL} *%\s*$"

_PLAIN: dict[str, Schema] = {
    "name": {"type": "string", "pattern": NAME},
    "number": {"type": "number", "minimum": 0, "maximum": 1e9},
    "degrees": {"type": "number", "minimum": -36000, "maximum": 36000},
    "colour": {"type": "string", "pattern": "^#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})$"},
    "share": {"type": "string", "pattern": SHARE},
    "date": {"type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"},  # as a date of TOML is handed on
    "text": {"type": "string", "maxLength": 200},
    "csv": {"type": "string", "maxLength": 255, "pattern": r"\.(?:[cC][sS][vV]|[tT][sS][vV]|[tT][xX][tT])$"},
    "column": {"type": "string", "minLength": 1},
    "change": {"type": "object"},
    "image": {"type": "string", "maxLength": 255, "pattern": r"\.(?:[pP][nN][gG]|[jJ][pP][eE]?[gG])$"},
}
_ALONG: Schema = {
    "type": "object",
    "properties": {"along": {"$ref": "#/definitions/signed"}, "at": {"$ref": "#/definitions/length"}},
    "required": ["along", "at"],
    "additionalProperties": False,
}


def _length(least: Schema) -> Schema:
    return {"anyOf": [{"type": "number", **least}, {"type": "string", "pattern": LENGTH}]}


_DEFINITIONS: dict[str, Schema] = {
    "length": _length({"minimum": 0}),
    "length above 0": _length({"exclusiveMinimum": 0}),
    "signed": _length({}),
    "down": {"anyOf": [{"type": "number", "minimum": 0}, {"type": "string", "pattern": f"{LENGTH}|{SHARE}"}]},
    "around": {"anyOf": [_PLAIN["degrees"], _PLAIN["name"], _ALONG]},
    "around, no seam": {"anyOf": [_PLAIN["degrees"], _ALONG]},
}
_SHELVES = {"cup": CUP, "vinyl": VINYL, "pattern": PATTERN}


def job_schema() -> Schema:
    """The schema of a job file, and of a preset file: one table of a cup, a vinyl or a pattern."""
    own = {key.name: key for key in JOB.keys}
    head = {name: _described(own[name], _schema(own[name].form)) for name in ("units", "title", "stock")}
    tables = {
        **{name: {"type": "object", **_by_name(_ref(name))} for name in _SHELVES},
        "order": {"type": "array", "items": _ref("order")},
        "orders": _ref("orders"),
        "offcut": {"type": "array", "items": _ref("offcut")},
        "cutter": _ref("cutter"),
    }
    presets = [
        {
            "required": [name],
            "propertyNames": {"enum": ["units", name]},
            "properties": {name: {"minProperties": 1, "maxProperties": 1}},
        }
        for name in _SHELVES
    ]
    return {
        "$schema": DRAFT,
        "title": TITLE,
        "type": "object",
        "properties": {**head, **{name: {"description": own[name].meaning, **schema} for name, schema in tables.items()}},
        "additionalProperties": False,
        "anyOf": [{"required": ["order"], "properties": {"order": {"minItems": 1}}}, {"required": ["orders"]}, *presets],
        "definitions": {
            **{table.name: _table(table) for table in (CUP, VINYL, PATTERN, ORDER, ORDERS, OFFCUT, CUTTER)},
            "line": _lines(),
            **_DEFINITIONS,
        },
    }


def _by_name(value: Schema) -> Schema:
    return {"propertyNames": {"pattern": NAME}, "additionalProperties": value}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/definitions/{name}"}


def _table(table: TableKeys) -> Schema:
    schema = {"description": table.meaning, **_object(table.keys)}
    if table.one_way:
        schema["anyOf"] = [{"required": list(way)} for way in table.one_way]
    return schema


def _lines() -> Schema:
    """A line: all keys that any kind takes, and for each kind what it takes of them."""
    merged: dict[str, list[Key]] = {}
    for key in LINE.keys:
        merged.setdefault(key.name, []).append(key)
    common = [key for key in LINE.keys if not key.kinds]
    whole = _object(common)
    for name, keys in merged.items():
        if keys[0].kinds:
            forms = list(dict.fromkeys(key.form for key in keys))
            meaning = "; ".join(f"{' and '.join(key.kinds)}: {key.meaning}" for key in keys)
            whole["properties"][name] = {"description": meaning, **_any(_schema(form) for form in forms)}
    (kinds,) = (key.form.words for key in common if key.name == "kind")
    return {"description": LINE.meaning, **whole, "allOf": [_kind(kind, merged) for kind in kinds]}


def _kind(kind: str, merged: dict[str, list[Key]]) -> Schema:
    own = [key for keys in merged.values() for key in keys if kind in key.kinds]
    others = {name: False for name, keys in merged.items() if keys[0].kinds and not any(kind in key.kinds for key in keys)}
    taken = _object(own)
    del taken["type"], taken["additionalProperties"]
    taken["properties"] |= others
    if kind == "vertical":
        taken["anyOf"] = [{"required": ["around"]}, {"required": ["repeat"]}]
    elif kind == "ring":
        taken["anyOf"] = [{"required": ["down"]}, {"required": ["up"]}]
    return {"if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]}, "then": taken}


def _object(keys: Sequence[Key], ways: Sequence[Sequence[str]] = ()) -> Schema:
    schema: Schema = {
        "type": "object",
        "properties": {key.name: _described(key, _schema(key.form)) for key in keys},
        "additionalProperties": False,
    }
    if needed := [key.name for key in keys if key.is_needed]:
        schema["required"] = needed
    beside = {}
    for key in keys:
        rule: Schema = {"required": list(key.needs)} if key.needs else {}
        if key.instead_of:
            rule["properties"] = {name: False for name in key.instead_of}
        if rule:
            beside[key.name] = rule
    if beside:
        schema["dependencies"] = beside
    if ways:
        every = {name for way in ways for name in way}
        schema["oneOf"] = [
            {"required": list(way), "properties": {name: False for name in sorted(every - set(way))}} for way in ways
        ]
    return schema


def _described(key: Key, schema: Schema) -> Schema:
    told: Schema = {"description": re.sub(r"`", "", f"{key.meaning}. Such as: {key.example}" if key.example else key.meaning)}
    if isinstance(key.default, (bool, str, int)) and key.default != "":
        told["default"] = key.default
    elif isinstance(key.default, float):
        told["default"] = f"{100 * key.default:g}%" if key.form == Plain("share") else _default_length(key)
    elif key.left_out:
        told["description"] += f". Left out: {key.left_out}"
    return {**told, "allOf": [schema]} if "$ref" in schema else {**told, **schema}


def _default_length(key: Key) -> str | float:
    """A default with its unit, since bare numbers are in the file's."""
    return f"{key.default:g} mm" if isinstance(key.form, Length) else key.default


def _any(schemas: Iterable[Schema]) -> Schema:
    several = list(schemas)
    return several[0] if len(several) == 1 and "$ref" not in several[0] else {"anyOf": several}


def _schema(form: Form) -> Schema:
    match form:
        case Length(signed=True):
            return _ref("signed")
        case Length(above_zero=above):
            return _ref("length above 0" if above else "length")
        case Whole(most=most, least=least):
            return {"type": "integer", "minimum": least, "maximum": most}
        case Switch():
            return {"type": "boolean"}
        case Choice(words=words):
            return {"enum": list(words)}
        case Plain(kind=kind):
            return _PLAIN[kind] if kind in _PLAIN else _ref(kind)
        case Several(form=held):
            return {"anyOf": [_schema(held), {"type": "array", "items": _schema(held), "minItems": 1}]}
        case Pair(form=held):
            return {"type": "array", "items": _schema(held), "minItems": 2, "maxItems": 2}
        case Inline(keys=keys, ways=ways):
            return _object(keys, ways)
        case Rows(row=row, least=least):
            return {"type": "array", "items": _schema(row), "minItems": least}
        case Named(form=held, any_words=True):
            return {"type": "object", "additionalProperties": _schema(held)}
        case Named(form=held):
            return {"type": "object", **_by_name(_schema(held))}
        case Either(forms=forms):
            return {"anyOf": [_schema(each) for each in forms]}
        case Heading(table=table):
            return {"type": "array", "items": _ref(table), "minItems": 1}
    raise AssertionError(form)
