"""The question behind a first answer, and the season found by looking ahead."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from soakbook.advice.ask import season_dates, usual_weather
from soakbook.advice.decide import LEAST_MM, judged_use, limits, soak_mm
from soakbook.advice.question import Question, all_wrong, garden_of
from soakbook.advice.season import water_by_rule
from soakbook.balance.crops import NONE, OVER
from soakbook.balance.place import PlaceDays, place_days
from soakbook.catalog import read as catalog
from soakbook.errors import InputError, InputErrors
from soakbook.weather.normals import normals_at

DAY = date(2017, 7, 8)
BED = Question("45.75, 4.85", "tomato", "loam", planted="2017-05-20", bed="3 m x 1.2 m")


def test_a_size_alone_tells_about_when_it_was_planted() -> None:
    tomato = catalog.plant("tomato")
    half = Question("45.75, 4.85", "tomato", "loam", wide=f"{50 * tomato.width_max_m.value:.1f} cm", bed="3 m x 1 m")
    planting = garden_of(half, DAY).places[0].plantings[0]
    age = round(tomato.days_ini.value + 0.5 * tomato.days_dev.value)
    assert planting.planted_out == DAY - timedelta(days=age)
    assert planting.measured_on == DAY
    carrot = garden_of(replace(half, plant="carrot", wide="10 cm"), DAY).places[0].plantings[0]
    assert carrot.sown is not None
    assert carrot.planted_out is None
    assert garden_of(replace(half, plant="raspberry"), DAY).places[0].plantings[0].established


def test_a_known_flow_makes_a_line() -> None:
    from soakbook.garden.log import flow_lph

    garden = garden_of(replace(BED, watered="drip line", flow="30 L/h"), DAY)
    assert flow_lph(garden.places[0], garden) == 30.0


def test_everything_wrong_is_told_at_once() -> None:
    q = replace(BED, where="Xyzzyville", soil="chalk cheese", bed="3 m", can="a lot", flow="-1 L/h", planted="soon")
    with pytest.raises(InputErrors) as caught:
        all_wrong(q, DAY)
    assert {e.field for e in caught.value.errors} == {"where", "soil", "bed", "can", "flow", "on"}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"can": "0.01 L"}, "can"),
        ({"wide": "90 m"}, "wide"),
        ({"flow": "1000000 L/h"}, "flow"),
        ({"bed": None, "pot": "0 L"}, "pot"),
    ],
)
def test_what_a_garden_file_would_not_take_is_refused_here(change: dict[str, str], field: str) -> None:
    with pytest.raises(InputError) as caught:
        garden_of(replace(BED, **change), DAY)  # type: ignore[arg-type]
    assert caught.value.field == field


def day_by_day(days: PlaceDays) -> list[tuple[date, float]]:
    """The rule asked every single morning."""
    state, limit, soaks = days.start(), limits(days), []
    for d in range(len(days.days)):
        growing = days.crops.phase[d] not in (NONE, OVER)
        result = days.run(state, d, d + 1, logged=False)
        used = judged_use(
            days, days.used_fraction(state.water_mm[0], d), days.used_fraction(result.water_mm[0, -1], d)[None], d
        )
        missing = float(days.missing_mm(state.water_mm[0], d)[0])
        if growing and used[0, 0] >= limit[d] and missing >= LEAST_MM:
            depth = soak_mm(days, state, d, result)
            result = days.run(state, d, d + 1, [(d, depth)], logged=False)
            soaks.append((days.days[d].astype(date), days.litres(depth, d)))
        state = result.end
    return soaks


@pytest.mark.parametrize(
    "q",
    [
        BED,
        Question(
            "37.39, -5.98", "carrot", "sand", sown="2017-03-20", bed="3 m x 1.2 m", watered="sprinkler", mulch="straw"
        ),
        Question("45.75, 4.85", "raspberry", "clay", established=True, bed="3 m x 1.2 m", watered="drip line"),
        Question("45.75, 4.85", "basil", "coir", sown="2017-05-01", pot="2 L", pots=2),
    ],
    ids=lambda q: q.plant,
)
def test_looking_ahead_waters_on_the_days_that_asking_every_morning_does(q: Question) -> None:
    garden = garden_of(q, DAY)
    place = garden.places[0]
    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    days = place_days(garden, place, usual_weather(garden, normals, *season_dates(place.plantings[0], DAY)))
    ahead = water_by_rule(days).soaks
    expected = day_by_day(days)
    assert [s.on for s in ahead] == [on for on, _ in expected]
    np.testing.assert_allclose([s.litres for s in ahead], [litres for _, litres in expected], rtol=1e-9)
