"""Whatever stands in a garden file can be written anew, kept as a document, and comes back the same."""

from __future__ import annotations

import json
import tomllib
from datetime import date, datetime, time, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.advice.open import find_elevation, find_town, known_words
from soakbook.catalog.read import means, mixes, mulches, plants, textures
from soakbook.demo import FOLDER
from soakbook.errors import InputError
from soakbook.garden.file import check_raw, parse_garden
from soakbook.garden.write import garden_text
from soakbook.store import as_file, from_file

days = st.dates(date(1900, 1, 1), date(2200, 12, 31))
words = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=40)
names = st.lists(words, min_size=1, max_size=2).map(" ".join)
cm = st.integers(3, 190).map(lambda n: f"{n} cm")
percent = st.one_of(st.integers(1, 100).map(lambda n: f"{n} %"), st.floats(1, 100))


def some_of(**entries: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=entries)


layers = st.one_of(
    st.builds(
        lambda first, rest: {**first, **rest},
        st.one_of(
            st.fixed_dictionaries({"texture": st.sampled_from(sorted(textures()))}),
            st.fixed_dictionaries(
                {"jar": st.lists(st.integers(2, 90).map(lambda n: f"{n} mm"), min_size=3, max_size=3)}
            ),
            st.fixed_dictionaries({"sand_pct": st.integers(0, 60), "clay_pct": st.floats(1, 40)}),
        ),
        some_of(organic_matter_pct=st.floats(0, 8), stones_pct=percent, compaction=st.floats(0.9, 1.2)),
    ),
    st.fixed_dictionaries({"mix": st.sampled_from(sorted(mixes()))}),
)
soils = st.one_of(
    layers,
    st.builds(
        lambda above, below: {"layers": [*above, below]},
        st.lists(st.builds(lambda layer, thick: {**layer, "thickness": thick}, layers, cm), min_size=1, max_size=3),
        layers,
    ),
)


wet_circles = st.builds(
    lambda circle, dug, more: {"flow": "2 L/h", "run": "1 h", "circle": circle, "dug": dug, **more},
    st.sampled_from(["40 cm", "1 ft 4 in"]),
    st.integers(3, 110).map(lambda n: f"{n} cm"),
    some_of(line=st.booleans(), seen=days),
)


@st.composite
def plantings(draw: st.DrawFn) -> dict[str, Any]:
    plant = draw(st.sampled_from(sorted(plants())))
    how = draw(st.sampled_from(["sown", "planted"]))
    begun = draw(st.dates(date(2000, 1, 1), date(2100, 1, 1)))
    more = draw(
        some_of(
            count=st.integers(1, 500),
            spacing=cm,
            cleared=st.integers(1, 300).map(lambda n: begun + timedelta(days=n)),
        )
    )
    if draw(st.booleans()):
        more |= {"width": draw(cm), "measured": begun + timedelta(days=1)}
    return {"plant": plant, how: begun, **more}


@st.composite
def places(draw: st.DrawFn, name: str, soil: Any) -> dict[str, Any]:
    kind = draw(st.sampled_from(["bed", "pot"]))
    shape: dict[str, Any]
    if kind == "bed":
        shape = draw(st.sampled_from([{"size": "3 m x 1.2 m"}, {"area": "4 m2"}, {"area": "3,5 m2"}]))
    else:
        more = draw(
            some_of(
                wall=st.sampled_from(["clay", "plastic"]),
                count=st.integers(1, 9),
                saucer=st.sampled_from(["3 cm", "1 in"]),
            )
        )
        shape = {"pot": {"volume": draw(st.integers(1, 100).map(lambda n: f"{n} L")), **more}}
    rest = draw(
        some_of(
            note=names,
            watered=st.sampled_from(sorted(means())),
            mulch=st.sampled_from(sorted(mulches())).map(lambda kind: {"kind": kind, "cover": "80 %"}),
            sun=st.sampled_from([{"south": "30 deg"}, [[180, 30.5]], {}]),
            shelter=st.sampled_from(["open", "some", "strong"]),
            rain=percent,
            **({"wetted": wet_circles} if kind == "bed" else {}),
            plantings=st.lists(plantings(), max_size=2),
        )
    )
    return {"name": name, "kind": kind, "soil": soil, **shape, **rest}


def timers() -> st.SearchStrategy[dict[str, Any]]:
    return st.builds(
        lambda name, rest: {"name": name, **rest},
        st.sampled_from(["tap", "shed"]),
        some_of(
            programmes=st.integers(1, 12), days=st.just(["weekdays", "every"]), step=st.just("5 min"), together=st.booleans(),
            hours=st.just("04:00-10:00"), allowed=st.just("tue,sat"), opens=st.just(["north"]), flow_cap=st.just("600 L/h"), tank=st.just("0.5 m3"),
            set=st.lists(st.sampled_from(["mon,wed 06:00 north 40 min", "every 3 days from 2026-06-01 05:00 20:00 north 5 min"]), max_size=5),
        ),
    )  # fmt: skip


@st.composite
def gardens(draw: st.DrawFn) -> dict[str, Any]:
    """Gardens most of which are valid: what is not must come back all the same."""
    head = {"name": draw(names), "latitude": draw(st.floats(-60, 60)), "longitude": draw(st.floats(-180, 180))}
    head |= {"time_zone": "UTC", "elevation": "4 m"}
    head |= draw(some_of(start=days, invented=st.booleans(), units=st.sampled_from(["metric", "US"])))
    known = draw(st.lists(soils, max_size=3))
    raw: dict[str, Any] = {"garden": head}
    if draw(st.booleans()):
        raw["supply"] = draw(some_of(can=st.just("10 L"), source=st.just("well"), salt=st.just("0.7 dS/m")))
    if draw(st.booleans()):
        raw["wishes"] = draw(some_of(spare_water=st.integers(0, 3), best_crop=st.floats(0, 3)))
    if known or draw(st.booleans()):
        raw["soils"] = [{"name": f"soil {n}", **soil} for n, soil in enumerate(known)]
    refer = st.sampled_from([f"soil {n}" for n in range(len(known))] or ["loam"])
    called = draw(st.lists(names, min_size=1, max_size=4, unique_by=str.casefold))
    raw["places"] = [draw(places(name, draw(st.one_of(refer, layers)))) for name in called]
    if draw(st.booleans()):
        raw["timers"] = draw(st.lists(timers(), max_size=2, unique_by=lambda timer: timer["name"]))
        raw["lines"] = [{"name": "north", "means": "drip line", "flow": "34 L/h"}]
    elif draw(st.booleans()):
        raw["lines"] = [{"name": "north", "means": "drip line", "flow": "34 L/h", "measured": draw(st.booleans())}]
    return raw


def same(one: Any, other: Any) -> bool:
    """Equal and of the same types: 1, 1.0 and true differ."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


@given(gardens())
@settings(max_examples=120)
def test_a_garden_comes_back_from_its_text_and_its_document(raw: dict[str, Any]) -> None:
    text = garden_text(raw)
    assert same(tomllib.loads(text), raw)
    document = json.loads(json.dumps(from_file(raw)))
    assert same(as_file(document), raw)
    assert from_file(document) == document  # ids stay
    try:
        checked = check_raw(raw, known_words())
    except InputError:
        with pytest.raises(InputError):
            parse_garden(text, known_words())
    else:
        assert checked == parse_garden(text, known_words())


def test_most_of_these_gardens_are_valid() -> None:
    valid: list[bool] = []

    @given(gardens())
    @settings(max_examples=100, database=None)
    def look(raw: dict[str, Any]) -> None:
        try:
            check_raw(raw, known_words())
            valid.append(True)
        except InputError:
            valid.append(False)

    look()
    assert sum(valid) > 0.5 * len(valid)


def test_the_demo_garden_comes_back() -> None:
    raw = tomllib.loads((FOLDER / "garden.toml").read_text())
    text = garden_text(raw)
    assert same(tomllib.loads(text), raw)
    assert check_raw(raw, known_words(), find_town, find_elevation).garden == parse_garden(text, known_words()).garden
    assert '\n[[places.plantings]]\nplant = "tomato_tall"\nplanted = 2017-05-12\n' in text
    assert 'mulch = { kind = "straw", cover = "90 %" }\n' in text
    assert max(map(len, text.splitlines())) <= 120


zones = st.integers(-23 * 60, 23 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
anything = st.recursive(
    st.one_of(
        st.text(st.characters(codec="utf-8")),
        st.integers(-(2**63), 2**63 - 1),
        st.floats(allow_nan=False),
        st.booleans(),
        st.dates(),
        st.times(),
        st.datetimes(),
        st.datetimes(timezones=zones),
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=5), inner, max_size=4)),
    max_leaves=20,
)
tops = st.one_of(st.sampled_from(["garden", "supply", "wishes", "lines", "soils", "places"]), st.text(max_size=5))


@given(st.dictionaries(tops, anything, max_size=6))
@settings(max_examples=150)
def test_anything_toml_can_hold_comes_back(raw: dict[str, Any]) -> None:
    assert same(tomllib.loads(garden_text(raw)), raw)


@pytest.mark.parametrize("value", [None, {1, 2}, b"x", "\ud800", {"a": None}, [object()]])
def test_what_toml_cannot_hold_is_refused(value: Any) -> None:
    with pytest.raises(InputError) as raised:
        garden_text({"garden": {"name": value}})
    assert raised.value.code == "garden.form"


@pytest.mark.parametrize("value", [datetime(2026, 1, 1, 7, 30), time(7, 30)])
def test_times_are_no_dates(value: Any) -> None:
    assert same(tomllib.loads(garden_text({"garden": {"start": value}})), {"garden": {"start": value}})
