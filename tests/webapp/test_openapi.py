"""The API's own description: complete, sound, and true of what is sent and answered."""

import copy
import json

import pytest
from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from tests.webapp.support import PRESSURE, TEMPERATURE, House
from webapp.clinical import measures

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
METHODS = {"get", "post", "put", "delete", "patch"}


@pytest.fixture
def document(ann) -> dict:
    return ann.browser.get("/api/v1/openapi.json").json


@pytest.fixture
def fits(document):
    """Whether a value fits one of the description's components."""
    resource = Resource(contents=document, specification=DRAFT202012)
    registry = Registry().with_resource("urn:api", resource)

    def check(name: str, value) -> list[str]:
        schema = {"$ref": f"urn:api#/components/schemas/{name}"}
        return [error.message for error in Draft202012Validator(schema, registry=registry).iter_errors(value)]

    return check


def test_it_is_an_openapi_document(document):
    assert document["openapi"].startswith("3.1.")
    assert {"title", "version"} <= set(document["info"])
    for path, operations in document["paths"].items():
        assert path.startswith("/api/") and operations
        for method, operation in operations.items():
            assert method in METHODS
            assert operation["summary"] and operation["responses"]
            assert all(
                int(status) and answer["description"] for status, answer in operation["responses"].items()
            )
            named = {item["name"] for item in operation.get("parameters", ()) if item["in"] == "path"}
            assert named == {part[1:-1] for part in path.split("/") if part.startswith("{")}


def test_every_component_is_a_json_schema(document):
    for schema in document["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)


def test_every_reference_leads_somewhere(document):
    text = json.dumps(document)
    referred = {part.split('"')[0] for part in text.split('"$ref": "')[1:]}
    prefix = "#/components/schemas/"
    assert referred and all(name.startswith(prefix) for name in referred)
    assert {name.removeprefix(prefix) for name in referred} <= set(document["components"]["schemas"])


def test_every_route_under_api_is_described(house: House, document):
    described = {(method, path) for path, operations in document["paths"].items() for method in operations}
    served = {
        (method.lower(), rule.rule.replace("<uuid:", "{").replace("<", "{").replace(">", "}"))
        for rule in house.app.url_map.iter_rules() if rule.rule.startswith("/api/")
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }  # fmt: skip
    assert described == served


def test_every_measure_is_described_with_its_limits(document):
    schemas = document["components"]["schemas"]
    for name in measures:
        assert "".join(part.title() for part in name.split("_")) + "Body" in schemas
    systolic = schemas["BloodPressureReadingsFields"]["properties"]["systolic"]
    [series] = [field for field in measures["blood_pressure"]["fields"] if field["id"] == "readings"]
    [wanted] = [item for item in series["item"] if item["id"] == "systolic"]
    assert (systolic["x-impossible"], systolic["x-unit"]) == (wanted["impossible"], wanted["unit"])


def test_what_is_sent_and_answered_fits_the_description(ann, fits):
    message = ann.message(
        [ann.entry(), ann.entry("blood_pressure", PRESSURE), ann.entry("note", {"text": "x"})]
    )
    message["push"].append(ann.entry(voids=message["push"][0]["id"], reason="wrong client", body={}))
    assert fits("SyncRequest", message) == []
    reply = ann.post(message).json
    assert [verdict["verdict"] for verdict in reply["verdicts"]] == ["applied"] * 4
    assert fits("SyncReply", reply) == []
    ann.epoch, ann.after = reply["epoch"], 2
    assert fits("SyncReply", ann.sync(ann.entry(body={"fields": {}}), 42)) == []
    assert fits("Session", ann.browser.get("/api/v1/session").json) == []
    assert fits("Clients", ann.browser.get("/api/v1/clients").json) == []
    client = message["push"][0]["client"]
    assert fits("ClientEntries", ann.browser.get(f"/api/v1/clients/{client}/entries").json) == []
    assert fits("Error", ann.post("{").json) == []


@pytest.mark.parametrize("spoil", [
    lambda entry: entry.pop("kind"),
    lambda entry: entry.update(kind="balance_test"),
    lambda entry: entry.update(extra=1),
    lambda entry: entry["body"].update(extra=1),
    lambda entry: entry["body"]["fields"].update(site="elbow"),
    lambda entry: entry["body"]["fields"].update(temperature=36.8),
    lambda entry: entry["body"]["units"].update(temperature="K"),
])  # fmt: skip
def test_the_description_refuses_what_the_server_refuses(ann, fits, spoil):
    entry = ann.entry(body=copy.deepcopy(TEMPERATURE))
    assert fits("Entry", entry) == []
    spoil(entry)
    assert fits("Entry", entry) != []
    assert ann.verdict(entry)["verdict"] != "applied"
