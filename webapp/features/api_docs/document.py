"""The OpenAPI document, made from the routes that are there and the schemas that check entries."""

from functools import cache
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Flask
from werkzeug.routing import Rule

from webapp.features.api_docs.components import COMPONENTS
from webapp.features.api_docs.describe import Operation
from webapp.schemas import SCHEMAS, EntrySchema, StoredEntrySchema
from webapp.schemas.requests import REQUESTS

PREFIX = "/api/"
_SECURITY = [{"session": []}]


def document(app: Flask) -> dict[str, Any]:
    """The description of every route under /api/ of an application."""
    spec = _schemas()
    for rule in sorted(app.url_map.iter_rules(), key=str):
        if rule.rule.startswith(PREFIX):
            spec.path(path=_path(rule), operations=_operations(app, rule))
    return spec.to_dict()


def body_name(kind: str) -> str:
    """The name of a kind's body among the components."""
    return "".join(part.title() for part in kind.split("_")) + "Body"


def _schemas() -> APISpec:
    spec = APISpec(
        title="Lintel",
        version="1",
        openapi_version="3.1.0",
        plugins=[MarshmallowPlugin()],
        info={"description": "Sync and session of Lintel. sync/PROTOCOL.md says how it is used."},
    )
    for kind, schema in SCHEMAS.items():
        spec.components.schema(body_name(kind), schema=schema)
    spec.components.schema("EntryEnvelope", schema=EntrySchema)
    spec.components.schema("Entry", _entry())
    spec.components.schema("StoredEntry", schema=StoredEntrySchema)
    for request in REQUESTS:
        spec.components.schema(request.__name__, schema=request)
    for name, component in COMPONENTS.items():
        spec.components.schema(name, component)
    spec.components.security_scheme("session", {"type": "apiKey", "in": "cookie", "name": "lintel_session"})
    return spec


def _entry() -> dict[str, Any]:
    """An entry is an envelope whose kind says which body it has; a withdrawal has an empty one."""
    bodies = [
        {
            "properties": {
                "kind": {"const": kind},
                "voids": {"type": "null"},
                "body": {"$ref": f"#/components/schemas/{body_name(kind)}"},
            }
        }
        for kind in SCHEMAS
    ]
    withdrawal = {
        "properties": {
            "kind": {"enum": list(SCHEMAS)},
            "voids": {"type": "string"},
            "body": {"type": "object", "maxProperties": 0},
        }
    }
    return {"allOf": [{"$ref": "#/components/schemas/EntryEnvelope"}, {"oneOf": [*bodies, withdrawal]}]}


def _path(rule: Rule) -> str:
    return rule.rule.replace("<", "{").replace(">", "}").replace("uuid:", "")


def _operations(app: Flask, rule: Rule) -> dict[str, Any]:
    operation: Operation = app.view_functions[rule.endpoint].operation  # type: ignore[attr-defined]
    described: dict[str, Any] = {
        "summary": operation.summary,
        "security": _SECURITY if 401 in operation.answers else [],
        "responses": {str(status): _answer(status, name) for status, name in operation.answers.items()},
    }
    parameters = _parameters(rule, operation)
    if parameters:
        described["parameters"] = parameters
    if operation.takes:
        described["requestBody"] = {"required": True, "content": _json(operation.takes)}
    return {
        method.lower(): described
        for method in sorted(rule.methods or ())
        if method not in ("HEAD", "OPTIONS")
    }


def _parameters(rule: Rule, operation: Operation) -> list[dict[str, Any]]:
    found = [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string", "format": "uuid"}}
        for name in sorted(rule.arguments)
    ]
    found += [
        {"name": name, "in": "query", "required": False, "description": text, "schema": {"type": "integer"}}
        for name, text in operation.query.items()
    ]
    if operation.takes:
        found.append(
            {
                "name": "X-CSRFToken",
                "in": "header",
                "required": True,
                "description": "`csrf` of the session",
                "schema": {"type": "string"},
            }
        )
    return found


def _answer(status: int, name: str) -> dict[str, Any]:
    return {"description": "Done" if status < 300 else "An error with a sentence", "content": _json(name)}


@cache
def _json(name: str) -> dict[str, Any]:
    return {"application/json": {"schema": {"$ref": f"#/components/schemas/{name}"}}}
