"""The JSON interface asked everything its description allows and much that it does not: it never breaks, and answers as described."""

from __future__ import annotations

import base64
import zlib
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import APIOperation, Case, GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.pages import SESSION_COOKIE
from soakbook.app.settings import Settings
from soakbook.demo import DAY, FOLDER
from soakbook.store import Store

SEED, EXAMPLES = 20260501, 4
PHASES = (Phase.explicit, Phase.generate)
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
QUESTION = {
    "where": "Lyon",
    "plant": "tomato",
    "soil": "loam",
    "bed": "2 m x 1 m",
    "planted": "2017-05-10",
    "live": False,
}


class Real:
    """The app with a session, and keys, ids and objects that are there, put into a part of the cases."""

    def __init__(self, app: Any) -> None:
        self.app, house = app, app.state.house
        self.store: Store = house.store
        self.key = bring_demo(house.desk).key
        self.token = self.store.open_session(self.store.add_person("Wren").id, "test")
        self.document = self.store.document(self.key)
        self.entry = self.store.entries(self.key)[0]
        self.answered: Counter[int] = Counter()
        self.paths: dict[str, Any] = {
            "key": self.key, "place_id": self.document["places"][0]["id"], "entry_id": self.entry.id, "number": 1,
            "name": "tomato",
        }  # fmt: skip

    def fed(self, case: Case) -> Case:
        """A case with what is there, in three of four; with a body that is right, in one of four."""
        share, body = pick(case, 4), self.bodies().get(name_of(case.operation))
        if share and case.path_parameters:
            case.path_parameters = {name: self.paths.get(name, value) for name, value in case.path_parameters.items()}
        if share == 1 and body is not None:
            case.body = body
        return case

    def bodies(self) -> dict[str, Any]:
        """A body that is right, by the name of the route."""
        place = {**self.document["places"][1], "name": "one more", "plantings": []}
        place.pop("line", None)
        place.pop("line_share", None)
        watered = {"id": "w1", "kind": "water", "place_id": self.paths["place_id"], "amount": "9 L", "text": "\u2603"}
        return {
            "make_garden": {"document": {**self.document, "garden": {**self.document["garden"], "weather": "normals"}}},
            "bring_files": {"garden_file": (FOLDER / "garden.toml").read_text(encoding="utf-8").replace("weather.csv.gz", "normals")},
            "put_document": {"document": self.document, "version": self.store.garden(self.key).version},
            "add_place": {"place": place}, "put_place": {"place": {**self.document["places"][0], "note": "moved"}},
            "move_place": {"to": 2},
            "put_entries": {"entries": [watered], "unless_done": True},
            "put_entry": {"at": "2017-07-01T07:00", "place_id": self.entry.place_id, "amount": "11 L"},
            "bring_log": {"csv": "at,kind,place,amount,text\n2017-07-02T08:00,rain,,3 mm,\n"},
            "own_soil": {"soil": self.document["soils"][0]},
            "look_at_file": {"name": "w.csv", "base64": base64.b64encode(b"date,tmax (C)\n2017-07-01,30\n").decode()},
            "bring_weather": {"name": "w.csv", "base64": base64.b64encode(b"date,tmax (C)\n2017-07-01,30\n").decode()},
            "ask": QUESTION, "keep": {"question": QUESTION, "garden": self.key},
            "make_link": {"garden": self.key, "kind": "round", "name": "Wren"},
        }  # fmt: skip


def name_of(operation: APIOperation) -> str:
    """The name of a route."""
    return str(operation.definition.raw["operationId"])


def pick(case: Any, of: int) -> int:
    """A number below ``of`` that only depends on what the case holds."""
    return zlib.crc32(repr((case.path, case.path_parameters, case.query, case.body)).encode(errors="replace")) % of


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Real]:
    """What is there in the app on the demo garden."""
    app = build_app(Settings(tmp_path_factory.mktemp("api"), today=DAY, demo=True, hosts=("testserver",)))
    yield Real(app)
    app.state.house.store.close()


def operations(app: Any) -> Iterator[APIOperation]:
    """Every route of the description."""
    for found in schemathesis.openapi.from_asgi("/api/openapi.json", app).get_all_operations():
        yield found.ok()


def cases(operation: APIOperation, real: Real) -> st.SearchStrategy[Case]:
    """What the description allows and, where there is anything to get wrong, what it does not."""
    right = operation.as_strategy(generation_mode=GenerationMode.POSITIVE)
    if not (operation.body or list(operation.query) or list(operation.path_parameters)):
        return right
    return st.one_of(right, right, operation.as_strategy(generation_mode=GenerationMode.NEGATIVE)).map(real.fed)


def test_it_answers_as_described_whatever_is_asked(real: Real, subtests: pytest.Subtests) -> None:
    for operation in operations(real.app):
        with subtests.test(operation.label):
            _ask(operation, real)
    assert {200, 201, 204, 404, 409, 422} <= set(real.answered), real.answered


def _ask(operation: APIOperation, real: Real) -> None:
    @seed(SEED)
    @settings(
        max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck), phases=PHASES
    )
    @given(case=cases(operation, real))
    def ask(case: Case) -> None:
        answer = case.call(cookies={SESSION_COOKIE: real.token}, timeout=120)
        real.answered[answer.status_code] += 1
        if name_of(operation) == "remove_garden":
            real.store.restore_garden(real.key)
        case.validate_response(answer, checks=CHECKS)
        if answer.status_code >= 400:
            assert set(answer.json()) - {"errors"} == {"code", "message", "field", "hint"}

    ask()
