"""Whatever a garden file may hold, the balance closes, nothing turns negative, and advice comes out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.advice.decide import advise, run_to
from soakbook.advice.members import nine
from soakbook.balance.place import place_days
from soakbook.catalog.read import means, mixes, mulches, plants, textures
from soakbook.errors import InputError
from soakbook.garden.model import Exposure, Garden, Mulch, Place, Planting, PotShape, SoilLayer
from tests.practice.sites import START, steady

layers = st.one_of(
    st.builds(
        SoilLayer,
        st.just("texture"),
        texture=st.sampled_from(sorted(textures())),
        organic_matter_pct=st.floats(0, 8),
        stones_pct_w=st.floats(0, 80),
        compaction=st.floats(0.9, 1.3),
    ),
    st.builds(SoilLayer, st.just("mix"), mix=st.sampled_from(sorted(mixes()))),
    st.builds(
        SoilLayer,
        st.just("measured"),
        field_capacity=st.floats(0.10, 0.55),
        wilting_point=st.floats(0.02, 0.40),
        conductivity_mm_h=st.one_of(st.none(), st.floats(0.01, 1e4)),
    ),
)
pots = st.builds(
    PotShape,
    height_m=st.floats(0.03, 2.0),
    top_area_m2=st.floats(0.002, 3.0),
    base_area_m2=st.floats(0.002, 3.0),
    fill_fraction=st.floats(0.2, 1.0),
    wall=st.sampled_from(["plastic", "glazed", "clay", "fabric", "wood"]),
    saucer_depth_m=st.floats(0.0, 0.3),
    count=st.integers(1, 50),
)
exposures = st.builds(
    Exposure,
    horizon=st.lists(st.tuples(st.floats(0, 359), st.floats(0, 85)), max_size=3).map(lambda h: tuple(dict(h).items())),
    shelter=st.sampled_from(["open", "some", "strong"]),
    cover=st.sampled_from(["none", "shade_cloth", "fleece", "tunnel", "glass"]),
    surroundings=st.sampled_from(["garden", "lawn", "paving"]),
    rain_fraction=st.one_of(st.none(), st.floats(0, 1)),
)


@st.composite
def places(draw: st.DrawFn) -> Place:
    kind = draw(st.sampled_from(["bed", "pot", "tray"]))
    plant = draw(st.sampled_from(sorted(plants())))
    day = START + timedelta(days=draw(st.integers(0, 40)))
    how = draw(
        st.sampled_from(["sown", "planted", "established"] if plants()[plant].perennial else ["sown", "planted"])
    )
    planting = Planting(
        plant,
        sown=day if how == "sown" else None,
        planted_out=day if how == "planted" else None,
        established=how == "established",
        count=draw(st.one_of(st.none(), st.integers(1, 500))),
        width_m=draw(st.one_of(st.none(), st.floats(0.01, 3.0))),
        cleared=draw(st.one_of(st.none(), st.just(day + timedelta(days=20)))),
    )
    soil = (draw(layers),)
    if kind == "bed" and draw(st.booleans()):
        soil = (replace(draw(layers), thickness_m=draw(st.floats(0.02, 1.0))), *soil)
    pot = draw(pots) if kind != "bed" else None
    return Place(
        "p",
        kind,
        soil,
        area_m2=pot.top_area_m2 * pot.count if pot else draw(st.floats(0.05, 500.0)),
        pot=pot,
        root_barrier_m=draw(st.one_of(st.none(), st.floats(0.05, 2.0))) if kind == "bed" else None,
        mulch=draw(st.one_of(st.none(), st.builds(Mulch, st.sampled_from(sorted(mulches())), st.floats(0.01, 1.0)))),
        exposure=draw(exposures),
        means=draw(st.sampled_from(sorted(means()))),
        wetted_fraction=draw(st.one_of(st.none(), st.floats(0.01, 1.0))),
        plantings=(planting,),
    )


@given(places(), st.sampled_from(["cool", "hot"]), st.integers(0, 2**31), st.floats(-60, 65))
@settings(max_examples=150, deadline=None)
def test_the_balance_closes_and_advice_comes_out(place: Place, kind: str, seed: int, lat_deg: float) -> None:
    rng = np.random.default_rng(seed)
    series = steady(kind, 110)
    rain = np.where(rng.random(110) < 0.2, rng.exponential(20, 110), 0.0)
    rain[5] = 300.0
    series = replace(series, lat_deg=lat_deg, columns={**series.columns, "rain_mm": rain})
    garden = Garden("any", lat_deg, 0.0, 100.0, "UTC", (place,))
    try:
        days = place_days(garden, place, series, members=nine())
    except InputError as error:
        if not error.code.startswith("soil."):  # a soil without pores left, refused in words
            raise
        return
    known = run_to(days, START + timedelta(days=60))  # raises when the balance does not close
    assert known.past.balance_error <= 1e-9
    assert np.all(known.past.water_mm >= 0.0)
    got = advise(known, series)
    assert got.litres >= 0.0
    assert np.isfinite([got.missing_mm, got.used, got.used_tonight, got.limit, got.litres]).all()
    assert abs(sum(r.depth_mm for r in got.reasons) - got.missing_mm) <= 1e-6 * max(1.0, got.missing_mm)
