"""Our advice in the trial: it goes by what a grower knows on the morning, and by nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.season.trial import told
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import Policy, follow
from soakbook.season.trial.ours import Full, Threshold
from soakbook.season.trial.proof import station
from soakbook.season.trial.told import sky
from tests.unit.season.trial.short import BED, POT, short_case, with_weather_from

CUT = 28


def _policies(case: Case) -> list[Policy]:
    above = sky(case.weather, station("53182")[1], case.seed)
    return [Threshold("rule", case, above), *(Full(how, case, above, how) for how in ("none", "weekly", "asked"))]


@pytest.mark.parametrize("setup", [BED, POT])
def test_weather_after_a_day_does_not_change_what_was_done_before(
    setup: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With forecasts that say only what is usual, two futures that part on day 28 are watered alike up to and on it."""
    real = told.forecast_like

    def usual_only(sky: told.Sky, today: int, days: int = told.TOLD_DAYS) -> dict[str, np.ndarray]:
        return {k: v[today : today + days] for k, v in sky.expected.items()}

    monkeypatch.setattr(told, "forecast_like", usual_only)
    assert real is not told.forecast_like
    case = short_case(setup)
    other = with_weather_from(case, CUT, rain_mm=9.0, warmer_c=6.0)
    object.__setattr__(other, "hidden", case.hidden)  # the same truth: its calendar follows from the warmth that came
    object.__setattr__(other, "days", case.days)
    one, two = follow(case, _policies(case)).asked_mm, follow(other, _policies(other)).asked_mm
    np.testing.assert_array_equal(one[: CUT + 1], two[: CUT + 1])
    assert not np.array_equal(one, two)


@pytest.mark.parametrize(("setup", "kind"), [(BED, "feel"), (POT, "weight")], ids=["bed", "pot"])
def test_readings_are_taken_once_a_week_and_teach(setup: object, kind: str) -> None:
    """A finger in a bed, a pot on the scales; the first the morning after all was watered in."""
    case = short_case(setup)
    above = sky(case.weather, station("53182")[1], case.seed)
    weekly = Full("weekly", case, above, "weekly")
    follow(case, [weekly])
    assert weekly.looks == len(range(1, case.days, 7))
    read = [e for e in weekly.log if e.kind == "reading"]
    assert {e.reading for e in read} == {kind}
    assert read[0].at.date() == case.day(1)
    assert weekly.learnt is not None
    assert len(weekly.learnt.readings) == weekly.looks


def test_who_takes_no_readings_has_none_in_the_log() -> None:
    case = short_case(BED)
    above = sky(case.weather, station("53182")[1], case.seed)
    none = Full("none", case, above, "none")
    season = follow(case, [none])
    assert none.looks == 0
    assert all(e.kind == "water" for e in none.log)
    given = sum(e.litres or 0.0 for e in none.log)
    assert given == pytest.approx(case.litres(float(season.asked_mm.sum())))
