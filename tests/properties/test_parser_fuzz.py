"""Whatever is in the file: the readers answer with a garden, a log or an InputError, and with nothing else."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from soakbook.errors import InputError, InputErrors
from soakbook.garden.file import parse_garden, read_garden
from soakbook.garden.locate import Lines
from soakbook.garden.log import COLUMNS, LogRow, append_entry, read_log, water_litres
from soakbook.garden.model import Garden
from soakbook.unit_tables import KINDS
from soakbook.units import parse_one_of, parse_quantity, parse_sides
from tests.known import KNOWN, find_town

DATA = Path(__file__).parents[1] / "data" / "broken"
BASE = (DATA / "garden.toml").read_text(encoding="utf-8")
LOG = (DATA / "garden.log.csv").read_text(encoding="utf-8")
UNIT_WORDS = sorted({name for kind in KINDS.values() for unit in kind.units for name in (unit.name, *unit.aliases)})
SEEDED = settings(derandomize=True, deadline=None, max_examples=200)

KEYS = sorted(set(re.findall(r"[a-z_]{2,}", BASE)) | {"where", "pot", "volume", "feel", "compaction", "lets_through"})
WORDS = [*re.findall(r'"([^"]+)"', BASE), "Little Sedge", "pot", "tray", "-1 m", "1e9 L", "NaN", "∞ m", "\x7f", ""]


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(DATA / "garden.toml", KNOWN)


def check_says_something(error: InputError) -> None:
    assert error.code
    assert error.message


def outcome(text: str) -> Garden | InputError:
    """A garden or an InputError; each error names a line of the text."""
    try:
        return parse_garden(text, KNOWN, find_town).garden
    except InputError as error:
        for one in error.errors if isinstance(error, InputErrors) else [error]:
            found = re.match(r"garden\.toml, line (\d+)", one.message)
            assert found or one.code == "toml.depth", one.message
            assert not found or 1 <= int(found[1]) <= text.count("\n") + 1
            assert one.code
        return error


def check_is_sound(garden: Garden) -> None:
    """What the reader lets through can be computed with."""
    assert garden.places
    for place in garden.places:
        assert 0 < place.area_m2 < math.inf
        assert place.soil
        assert 0 < place.line_share <= 1
        assert place.pot is None or 0 < place.pot.volume_l < math.inf
        for layer in place.soil:
            assert layer.wilting_point is None or layer.wilting_point < (layer.field_capacity or 0)


@SEEDED
@given(st.text(max_size=60))
def test_any_text_as_a_quantity(text: str) -> None:
    for kind in KINDS:
        try:
            assert math.isfinite(parse_quantity(text, kind))
        except InputError as error:
            check_says_something(error)
    for read in (parse_sides, lambda t: parse_one_of(t, ("volume", "duration", "depth"))):
        try:
            read(text)
        except InputError as error:
            check_says_something(error)


@SEEDED
@given(
    st.lists(
        st.sampled_from([*UNIT_WORDS, "1", "2,5", "1/2", "½", "-", " ", "x", "9" * 30, ",", ".", "/", "1/0"]),
        max_size=8,
    )
)
def test_pieces_of_quantities_in_any_order(pieces: list[str]) -> None:
    for kind in KINDS:
        try:
            assert math.isfinite(parse_quantity("".join(pieces), kind))
        except InputError as error:
            check_says_something(error)


@SEEDED
@given(st.one_of(st.integers(), st.floats(), st.just(10**500), st.just(-(10**500))))
def test_any_number_as_a_quantity(number: float) -> None:
    for kind in KINDS:
        for bare in (None, KINDS[kind].units[0].name):
            try:
                assert math.isfinite(parse_quantity(number, kind, bare=bare))
            except InputError as error:
                check_says_something(error)


@SEEDED
@given(st.text(max_size=300))
def test_any_text_as_a_garden(text: str) -> None:
    assert isinstance(outcome(text), InputError)


scalars = st.one_of(
    st.booleans(),
    st.integers(),
    st.integers(2**63, 2**80),
    st.floats(),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.sampled_from(WORDS),
    st.text(max_size=20),
)
values = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(KEYS), inner, max_size=4)),
    max_leaves=12,
)


def as_toml(value: Any) -> str:
    """A value as TOML on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {as_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(as_toml(v) for v in value) + "]"
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return str(value) if math.isfinite(value) else ("nan" if math.isnan(value) else f"{value:+}")
    return str(value.isoformat())


@SEEDED
@given(
    st.dictionaries(
        st.sampled_from(["garden", "supply", "wishes", "lines", "soils", "places", "x"]), values, max_size=5
    )
)
def test_any_structure_as_a_garden(structure: dict[str, Any]) -> None:
    outcome("\n".join(f"{key} = {as_toml(value)}" for key, value in structure.items()))


TOKEN = re.compile(r'"[^"\n]*"|\d[\d-]*(?:\.\d+)?|true|\[\[\w+(?:\.\w+)?\]\]')
SPOTS = [match.span() for match in TOKEN.finditer(BASE)]


@settings(SEEDED, max_examples=200)
@given(st.lists(st.tuples(st.sampled_from(SPOTS), values), min_size=1, max_size=3))
def test_a_garden_with_values_swapped_for_others(swaps: list[tuple[tuple[int, int], Any]]) -> None:
    text = BASE
    for (start, end), value in sorted(swaps, key=lambda swap: -swap[0][0]):
        text = text[:start] + as_toml(value) + text[end:]
    found = outcome(text)
    if isinstance(found, Garden):
        check_is_sound(found)


@settings(SEEDED, max_examples=300)
@given(st.data())
def test_a_garden_with_pieces_cut_doubled_and_spoilt(data: st.DataObject) -> None:
    text = BASE
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 60)))
        put = data.draw(st.one_of(st.just(""), st.just(text[start:end] * 2), st.text(max_size=4)))
        text = text[:start] + put + text[end:]
    found = outcome(text)
    if isinstance(found, Garden):
        check_is_sound(found)


@SEEDED
@example('"\\1"')
@given(st.text(alphabet="[]{}=.,\"'\\#\n ab1", max_size=80))
def test_the_line_finder_never_fails(text: str) -> None:
    lines = Lines(text)
    assert 1 <= lines.line(("a", 0, "b")) <= text.count("\n") + 1


cells = st.one_of(st.text(max_size=12), st.sampled_from([*LOG.replace("\n", ",").split(","), *COLUMNS, "1,5 L", '"']))


@settings(SEEDED, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    text=st.one_of(
        st.text(max_size=200),
        st.lists(st.lists(cells, min_size=6, max_size=6), max_size=4).map(
            lambda rows: ",".join(COLUMNS) + "\n" + "\n".join(",".join(row) for row in rows)
        ),
    )
)
def test_any_text_as_a_log_and_an_entry_added_to_it(text: str, garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_bytes(text.encode("utf-8", "surrogatepass"))
    before = file.read_bytes()
    entry = None
    try:
        entry = append_entry(file, LogRow("2026-06-05T07:00", "water", "Tomato bed", "8 L"), garden)
    except InputError as error:
        check_says_something(error)
        assert file.read_bytes() == before
    try:
        found = read_log(file, garden)
        assert entry is None or entry in found
    except InputError as error:
        check_says_something(error)


@SEEDED
@given(
    amount=st.one_of(
        st.text(max_size=30), st.lists(st.sampled_from([*UNIT_WORDS, "cans", "1", "2,5"]), max_size=4).map(" ".join)
    )
)
def test_any_text_as_an_amount(amount: str, garden: Garden) -> None:
    for place in garden.places:
        try:
            litres, minutes = water_litres(amount, place, garden)
            assert 0 < litres < math.inf
            assert minutes is None or minutes > 0
        except InputError as error:
            check_says_something(error)
