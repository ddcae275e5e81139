"""docs/api.md and the description of the JSON interface name the same routes, and its examples are right."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.settings import Settings
from soakbook.demo import DAY

DOCS = (Path(__file__).parents[2] / "docs" / "api.md").read_text(encoding="utf-8")
ROOT = "/api/v1"
EXAMPLES = re.findall(r"^```sh\n(.*?)^```", DOCS, re.MULTILINE | re.DOTALL)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = build_app(Settings(tmp_path_factory.mktemp("api"), today=DAY, demo=True))
    bring_demo(app.state.house.desk)
    yield TestClient(app, base_url="http://localhost:8765", client=("127.0.0.1", 50000))
    app.state.house.store.close()


@pytest.fixture(scope="module")
def described(client: TestClient) -> dict[str, Any]:
    spec: dict[str, Any] = client.get("/api/openapi.json").json()
    return spec


def operations(spec: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Routes by method and path, such as ``GET /gardens``."""
    return {
        f"{method.upper()} {path.removeprefix(ROOT)}": op
        for path, ops in spec["paths"].items()
        for method, op in ops.items()
    }


def test_every_route_is_in_the_docs_once_and_none_that_is_not_there(described: dict[str, Any]) -> None:
    documented = re.findall(r"^\| `([A-Z]+ /\S*)` \|", DOCS, re.MULTILINE)
    assert sorted(documented) == sorted(operations(described))


def test_every_route_says_what_it_does(described: dict[str, Any]) -> None:
    for name, op in operations(described).items():
        assert op["summary"], name
        assert op["description"].strip().endswith("."), name
        assert op["tags"], name
    names = [op["operationId"] for op in operations(described).values()]
    assert len(set(names)) == len(names)


def test_every_error_has_the_one_shape(described: dict[str, Any]) -> None:
    for name, op in operations(described).items():
        answers = op["responses"]
        assert {"422", "4XX", "5XX"} <= set(answers), name
        for status, answer in answers.items():
            if status[0] in "45":
                schema = answer["content"]["application/json"]["schema"]
                assert schema == {"$ref": "#/components/schemas/Error"}, (name, status)


def test_only_the_interface_is_described(described: dict[str, Any]) -> None:
    assert all(path.startswith(f"{ROOT}/") for path in described["paths"])


def test_routes_of_the_examples_are_there(described: dict[str, Any]) -> None:
    found = re.findall(r"curl (?:-X (\w+) )?http://localhost:8765/api/v1(\S+)", "\n".join(EXAMPLES))
    patterns = [(name.split(" ")[0], re.sub(r"\{\w+\}", "[^/]+", name.split(" ")[1])) for name in operations(described)]
    assert len(found) >= 8
    for method, path in found:
        assert any(re.fullmatch(pattern, path) and how == (method or "GET") for how, pattern in patterns), path


def test_bodies_of_the_examples_are_taken(client: TestClient) -> None:
    garden = client.get(f"{ROOT}/gardens").json()["items"][0]["key"]
    place = client.get(f"{ROOT}/gardens/{garden}/places").json()["items"][0]["id"]
    text = "\n".join(EXAMPLES).replace("our-garden", garden).replace("5f0c2a1b", place).replace("2026-", "2017-")
    sent = re.findall(r"curl -X POST (\S+) -H 'Content-Type: application/json' \\\n  -d '(.*?)'$", text, re.MULTILINE)
    assert len(sent) == 3
    for address, body in sent:
        answer = client.post(address, json=json.loads(body))
        assert answer.status_code == 200, answer.text
