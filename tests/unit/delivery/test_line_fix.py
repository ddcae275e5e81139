"""Several places on one line: the times that cost least in sum, and what would even them out."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from soakbook.delivery.line_fed import fed_of
from soakbook.delivery.line_fix import _best, _near, even_text, shared_line
from soakbook.delivery.timer_need import WASTE_PRICE, Need, Span, costs_of
from soakbook.delivery.timer_place import TimerPlace, timer_places
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Line, Place, Planting, SoilLayer, Supply
from soakbook.garden.timer import KeptTimer, Rules
from soakbook.season.line_parts import line_named, shared_lines
from tests.practice.sites import START
from tests.unit.advice.made import coming
from tests.unit.delivery.timers_made import FIRST, need

DAYS = 14


def drawn(seed: int, days: int = 3) -> dict[str, Need]:
    rng = np.random.default_rng(seed)
    made = [need("north", ((300, 600),), rng, days=days) for _ in range(2)]
    return {n.place: replace(n, takes_mm=np.inf, weight=0.5) for n in made}


def cost(needs: dict[str, Need], minutes: dict[str, np.ndarray]) -> float:
    return float(
        sum(
            costs_of([n], (minutes[p] * n.per_minute_mm)[:, None, None], np.array([[minutes[p].sum() * n.per_minute_mm]]))[0, 0]
            for p, n in needs.items()
        )
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_no_minutes_cost_less_in_sum(seed: int) -> None:
    """Against every combination of 12 run times on three days, by the cost's own formula: a second way to the same number."""
    needs = drawn(seed)
    best = _best(needs, ())
    assert len({tuple(m) for m in best.values()}) == 1
    most = max(n.store_mm / n.per_minute_mm for n in needs.values())
    tried = (cost(needs, dict.fromkeys(needs, np.array(m))) for m in product(np.linspace(0.0, most, 12), repeat=3))
    # Minutes are whole: half a minute each day is what rounding may cost.
    rounding = sum(0.5 * 3 * n.per_minute_mm * n.scale * (1.0 + WASTE_PRICE * n.waste_times) for n in needs.values())
    assert cost(needs, best) <= min(tried) + rounding


@pytest.mark.parametrize("seed", range(4))
def test_a_tap_never_costs_more_and_never_runs_longer_than_its_line(seed: int) -> None:
    needs = drawn(seed, days=5)
    name, other = needs
    together, tapped = _best(needs, ()), _best(needs, (name,))
    assert np.all(tapped[name] <= tapped[other])
    rounding = sum(0.5 * 5 * n.per_minute_mm * n.scale * (1.0 + WASTE_PRICE * n.waste_times) for n in needs.values())
    assert cost(needs, tapped) <= cost(needs, together) + rounding


def bed(name: str, flow_lph: float, plant: str = "tomato") -> Place:
    return Place(
        name, "bed", (SoilLayer("texture", texture="loam"),), 3.0, length_m=3.0, width_m=1.0, means="drip_line", line="north",
        emitters=round(flow_lph / 2.0), emitter_flow_lph=2.0, plantings=(Planting(plant, planted_out=START, count=6),),
    )  # fmt: skip


def laid(*places: Place) -> tuple[Garden, tuple[TimerPlace, ...]]:
    garden = Garden("test", 40.0, 0.0, 100.0, "UTC", places, (Line("north", "drip_line"),))
    return garden, timer_places(garden, coming(members=20))


def test_twins_share_a_line_at_no_cost() -> None:
    garden, places = laid(bed("one", 20.0), bed("other", 20.0))
    (made,) = shared_lines(garden, places, FIRST, DAYS)
    assert made.first is None
    assert made.fixes == ()
    assert "next to nothing" in even_text(made)


def test_half_the_emitters_want_doubling() -> None:
    """Two beds alike but for their emitters: as many again at the poorer one, or half as many at the richer, makes twins of them."""
    garden, places = laid(bed("rich", 20.0), bed("poor", 10.0))
    (made,) = shared_lines(garden, places, FIRST, DAYS)
    rich, poor = made.judged
    assert rich.given_l == pytest.approx(2.0 * poor.given_l, rel=0.02)
    assert made.cost > made.alone_cost + 0.1
    found = {(fix.kind, fix.place): fix for fix in made.fixes}
    more = found["emitters", "poor"]
    assert more.times == pytest.approx(2.0, rel=0.2)
    assert "4 L/h in place of 2 L/h" in more.text or "3.5 L/h in place of 2 L/h" in more.text
    assert max(fix.saves for fix in made.fixes) <= made.cost - made.alone_cost + 1e-9
    assert made.first is not None
    assert made.first.kind == "tap"
    assert made.in_order[0] is made.first
    assert made.first.saves >= 0.8 * max(fix.saves for fix in made.fixes)
    lines = [fix for fix in made.fixes if fix.kind == "line"]
    assert len(lines) == 1  # of two places it is all the same which gets the new line


def test_emitters_that_the_tap_cannot_feed_are_left_out_and_that_is_said() -> None:
    """20 and 10 L/h on one line; twice as much at the poorer place makes 40 L/h. Of a hose of 45 L/h four fifths are 36 L/h (a fifth to spare: common practice): at most
    1.6 times as much there."""
    garden, places = laid(bed("rich", 20.0), bed("poor", 10.0))
    (free,) = shared_lines(replace(garden, supply=Supply(hose_lph=500.0)), places, FIRST, DAYS)
    assert free.left_out == ()
    assert next(fix.times for fix in free.fixes if (fix.kind, fix.place) == ("emitters", "poor")) > 1.6
    (made,) = shared_lines(replace(garden, supply=Supply(hose_lph=45.0)), places, FIRST, DAYS)
    assert all(fix.times <= 1.6 + 1e-9 for fix in made.fixes)
    (told,) = made.left_out
    assert str(told) in (
        "Left out: emitters of 4 L/h in place of 2 L/h at poor. The line would then take 40 L/h, and of the 45 L/h that the hose gives only 36 L/h are planned with.",
        "Left out: emitters of 3.5 L/h in place of 2 L/h at poor. The line would then take 38 L/h, and of the 45 L/h that the hose gives only 36 L/h are planned with.",
    )
    (halved,) = shared_lines(replace(garden, supply=Supply(hose_lph=20.0)), places, FIRST, DAYS)
    assert all(
        fix.times <= 1.0 for fix in halved.fixes
    )  # it takes more than it is fed already: only fewer emitters are of use
    assert any(fix.times < 1.0 for fix in halved.fixes)


def test_what_feeds_a_line() -> None:
    garden, _ = laid(bed("rich", 20.0), bed("poor", 10.0))
    assert fed_of(garden, "north") is None
    timers = (
        KeptTimer("tap", rules=Rules(flow_cap_lph=33.0)),
        KeptTimer("other", rules=Rules(flow_cap_lph=5.0), opens=("south",)),
    )
    fed = fed_of(replace(garden, supply=Supply(hose_lph=50.0), timers=timers), "north")
    assert fed is not None
    assert (fed.line_lph, fed.most_lph) == (30.0, 33.0)
    assert "33 L/h may flow at once by the rules of tap" in fed.why
    assert fed.times_at(10.0) == pytest.approx(1.3)
    measured = replace(garden, lines=(Line("north", "drip_line", 36.0, flow_is_measured=True),), timers=timers)
    over = fed_of(measured, "north")
    assert over is not None
    assert (over.line_lph, over.times_at(10.0)) == (36.0, 1.0)


def test_emitters_that_can_be_had() -> None:
    assert [t * 2.0 for t in _near(1.0, 2.0)] == pytest.approx([1.6, 2.3])
    assert [t * 2.0 for t in _near(5.0, 2.0)] == pytest.approx([8.0])
    assert _near(0.6, None) == (0.5, 0.75)


def test_what_is_no_shared_line() -> None:
    garden, places = laid(bed("one", 20.0))
    assert shared_lines(garden, places, FIRST, DAYS) == ()
    with pytest.raises(InputError, match="two places or more"):
        shared_line(places, Span(FIRST, DAYS, ((300, 600),)), {})
    assert line_named(garden, " North") == "north"
    with pytest.raises(InputError, match='no line "south"'):
        line_named(garden, "south")
