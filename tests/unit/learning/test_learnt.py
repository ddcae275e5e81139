"""What was learnt, in words: said only where readings bear it out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from soakbook.balance.layout import Members
from soakbook.garden.model import Line, LogEntry
from soakbook.learning.filter import Learnt, learn
from soakbook.learning.learnt import LEAST_CHANGE, changes, told
from soakbook.learning.reading import Reading, readings_of
from tests.unit.learning.scene import BED, POT, TODAY, at, garden, log, reading, truths, weather

DATES = [date(2017, 5, 18) + timedelta(3 * k) for k in range(16)]


def learned(readings: list[Reading]) -> Learnt:
    return learn(garden(), BED, weather(), log(), readings, TODAY)


def sensed(*, store_z: float = 0.0, demand: float = 1.0, delivery: float = 1.0) -> list[Reading]:
    """A sensor's readings without error of a bed that is off by so much."""
    one = np.ones(1)
    truth = truths(BED, Members(store_z * one, demand * one, one, delivery * one, 0.0 * one))
    c = truth.days.laid.columns
    layer = 2
    wp, size = c.wp_mm[0, layer, 0], c.thickness_mm[0, layer]
    span = c.fc_mm[0, layer, 0] - wp
    return [
        reading(f"s{k}", d, "sensor", float((wp + truth.wetness(d, 0.15)[0] * span) / size))
        for k, d in enumerate(DATES)
    ]


def test_a_smaller_store_is_said_in_words() -> None:
    got = learned(sensed(store_z=-1.6))
    said = [s for s in told(got) if "holds" in s]
    assert len(said) == 1
    assert said[0].startswith("this bed holds about a ")
    assert said[0].endswith("less than a loam usually does; 16 readings")


def test_a_larger_store_is_said_the_other_way() -> None:
    assert any("more than a loam usually does" in s for s in told(learned(sensed(store_z=1.6))))


def bucket(litres_an_hour: float, *, whole_line: bool) -> Learnt:
    """A bed on a line of 60 L/h as printed, half of which is for it, and a bucket held under the bed's half or all of the line."""
    bed = replace(BED, means="emitters", line="drip", line_share=0.5)
    site = replace(garden(), places=(bed,), lines=(Line("drip", "emitters", flow_lph=60.0),))
    entry = LogEntry(
        "b", at(date(2017, 6, 20)), "reading", "" if whole_line else bed.name, reading="flow", value=litres_an_hour,
        line="drip" if whole_line else "",
    )  # fmt: skip
    return learn(site, bed, weather(), log(), readings_of([entry], bed), TODAY)


def test_water_that_does_not_arrive_is_said() -> None:
    for got in (bucket(15.0, whole_line=False), bucket(30.0, whole_line=True)):
        said = told(got)
        assert len(said) == 1
        assert said[0].startswith("this bed gets about a ")
        assert said[0].endswith("less of what is put on than worked out; 1 reading")
        change = next(c for c in changes(got) if c.name == "delivery")
        assert -0.5 < change.by < -0.3


def test_a_flow_as_printed_is_not_said() -> None:
    got = bucket(30.0, whole_line=False)
    assert told(got) == ()
    assert next(c for c in changes(got) if c.name == "delivery").left < 0.75


def test_a_flow_of_which_the_garden_file_says_nothing_is_left_out() -> None:
    entry = LogEntry("b", at(date(2017, 6, 20)), "reading", BED.name, reading="flow", value=20.0)
    got = learned(readings_of([entry], BED))
    assert [r.id for r in got.left_out] == ["b"]


def test_what_readings_cannot_tell_apart_is_not_said() -> None:
    """Greater use dries the soil as a small store or missing water does, and one sensor cannot say which."""
    got = learned(sensed(demand=1.3))
    assert next(c for c in changes(got) if c.name == "demand").by > -0.05
    assert told(got) == ()


def test_nothing_is_said_without_readings_or_of_one_vague_one() -> None:
    assert told(learned([])) == ()
    assert told(learned([reading("f", date(2017, 6, 20), "feel", 1)])) == ()


def test_nothing_is_said_of_a_bed_that_is_as_expected() -> None:
    got = learned(sensed())
    store = next(c for c in changes(got) if c.name == "store")
    assert abs(store.by) < LEAST_CHANGE
    assert not any("holds" in s for s in told(got))


def test_the_prior_has_no_change_to_speak_of() -> None:
    for change in changes(learned([])):
        assert change.left == pytest.approx(1.0, abs=0.02)
        assert abs(change.by) < 0.02


def test_a_mix_has_no_texture_to_be_compared_with() -> None:
    dry = [reading(f"x{k}", date(2017, 6, 24) + timedelta(2 * k), "lift", 0) for k in range(6)]
    got = learn(garden(), POT, weather(), log(), dry, TODAY, count=40, most_draws=2)
    for text in told(got):
        assert text.startswith("this pot")
        assert "6 readings" in text
