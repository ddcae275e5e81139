"""A tap in words, and what it may feed at once."""

from __future__ import annotations

import math

import pytest

from soakbook.errors import InputError
from soakbook.garden.tap_text import flow_cap_lph, tap_from


def test_a_tap_gives_its_bucket_flow_when_nothing_holds_it_back() -> None:
    """What a tap loses grows with the square of its flow: 3 bar are gone at 12 L/min, so two bar at 12 sqrt(2/3)."""
    for text in ("3 bar, 12 L/min", "3 bar,12 L/min", "3,0 bar, 12,0 L/min", "300 kPa, 720 L/h"):
        feed = tap_from(text, "tap")
        assert feed.head_m == pytest.approx(300.0 / 9.81, rel=1e-3)
        assert flow_cap_lph(text, "flow_cap") == pytest.approx(0.8 * 720.0 * math.sqrt(2.0 / 3.0), rel=1e-6)


def test_a_flow_is_a_flow() -> None:
    assert flow_cap_lph("600 L/h", "flow_cap") == 600.0
    assert flow_cap_lph("0,8 m3/h", "flow_cap") == 800.0


@pytest.mark.parametrize("text", ["a lot", "3 bar", "3 bar; 12 L/min", "3 bar, plenty", "0.8 bar, 12 L/min"])
def test_what_is_neither_is_told(text: str) -> None:
    with pytest.raises(InputError) as error:
        flow_cap_lph(text, "flow_cap")
    assert error.value.field == "flow_cap"
    assert error.value.hint or "number" in str(error.value)
