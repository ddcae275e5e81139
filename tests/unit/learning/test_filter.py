"""Members weighed by readings: order, removal, late and contradictory readings, and bands that hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest

from soakbook.balance.place import place_days
from soakbook.balance.spread import draw_members
from soakbook.errors import InputError
from soakbook.garden.model import LogEntry, Place
from soakbook.learning.draws import effective, latent, members_from
from soakbook.learning.filter import LEAST, TIED, Learnt, how_much, learn, pick, tempered
from soakbook.learning.normal import normal_cdf, weighted_quantile
from soakbook.learning.reading import Kind, Reading, moment_of, readings_of
from tests.unit.learning.scene import BED, POT, TODAY, FloatArray, at, garden, log, reading, taken, truths, weather

JUNE = date(2017, 6, 1)
SOME = [
    reading("a", JUNE, "dial", 7.0, by="one"),
    reading("b", JUNE + timedelta(9), "dial", 4.0, by="one"),
    reading("c", JUNE + timedelta(20), "feel", 1),
    reading("d", JUNE + timedelta(27), "wilted at 4 pm", 0),
    reading("e", JUNE + timedelta(33), "sensor", 0.2, by="grey"),
]


def learned(readings: list[Reading], *, count: int = 120, draws: int = 3, today: date = TODAY) -> Learnt:
    return learn(garden(), BED, weather(), log(), readings, today, count=count, most_draws=draws)


def same(one: Learnt, other: Learnt) -> bool:
    return all(
        np.abs(a - b).max() <= 1e-12
        for a, b in ((one.weights, other.weights), (one.z, other.z), (one.end.water_mm, other.end.water_mm))
    )


#: The same with soil squeezed in the hand, one of them by another hand.
SQUEEZED = [
    *SOME[:3],
    reading("s", JUNE + timedelta(22), "squeeze", 1),
    reading("t", JUNE + timedelta(30), "squeeze", 4, by="hers"),
]


@pytest.mark.parametrize("some", [SOME, SQUEEZED], ids=["several kinds", "squeezed"])
def test_the_order_in_which_readings_arrive_does_not_matter(some: list[Reading]) -> None:
    for order in ([4, 0, 3, 1, 2], [1, 0, 4, 3, 2], [4, 3, 2, 1, 0]):
        assert same(learned(some), learned([some[k] for k in order]))


def test_a_reading_that_is_taken_out_was_never_there() -> None:
    without = learned(SOME[:4])
    assert same(learned([r for r in SOME if r.id != "e"]), without)
    assert "sensor/grey/0" not in without.names
    assert not np.array_equal(learned(SOME).weights, without.weights)


def test_one_hand_feels_and_squeezes() -> None:
    """What is off about a hand stays the same number whichever way it reads; another hand has its own."""
    got = learned(SQUEEZED)
    assert [name for name in got.names if name.startswith(("feel", "squeeze"))] == ["feel//0", "feel/hers/0"]
    assert same(learned(SQUEEZED[:4]), learned([*SQUEEZED[:3], replace(SQUEEZED[3], id="late")]))
    assert "feel//0" in learned([SQUEEZED[3]]).names


def test_a_squeeze_taken_out_was_never_there() -> None:
    assert same(learned([r for r in SQUEEZED if r.id != "t"]), learned(SQUEEZED[:4]))
    assert not np.array_equal(learned(SQUEEZED[:4]).weights, learned(SQUEEZED[:3]).weights)


def test_a_late_reading_counts_as_if_it_had_come_in_time() -> None:
    learned(SOME[1:])
    assert same(learned([*SOME[1:], SOME[0]]), learned(SOME))


def test_a_reading_counts_once_however_often_it_is_sent() -> None:
    assert same(learned([*SOME, SOME[2], SOME[0]]), learned(SOME))
    with pytest.raises(InputError, match="id of another"):
        learned([*SOME, replace(SOME[0], value=1.0)])


def test_the_same_reading_written_down_twice_says_no_more() -> None:
    assert same(learned([*SOME, replace(SOME[0], id="again")]), learned(SOME))


def test_readings_outside_the_days_are_left_out_and_named() -> None:
    early, late = reading("early", date(2016, 6, 1), "feel", 0), reading("late", TODAY, "feel", 0)
    got = learned([*SOME, early, late])
    assert {r.id for r in got.left_out} == {"early", "late"}
    assert same(got, learned(SOME))


def test_no_reading_leaves_the_prior() -> None:
    got = learned([])
    assert got.effective == pytest.approx(120.0)
    assert got.draws == 1
    members = draw_members(BED, 120, np.random.default_rng(1))
    assert got.members().demand == pytest.approx(members.demand)
    assert got.members().store_z == pytest.approx(members.store_z)


def test_numbers_of_members_go_there_and_back() -> None:
    members = draw_members(BED, 50, np.random.default_rng(3))
    back = members_from(latent(members, BED, None), BED, None)
    for name in ("store_z", "demand", "catch", "delivery", "drainage_z"):
        assert getattr(back, name) == pytest.approx(getattr(members, name))


def test_what_is_wetter_raises_the_wetter_members() -> None:
    last = TODAY - timedelta(2)
    dry, wet = (learned([reading("x", last, "feel", k)]) for k in (0, 2))
    assert dry.weights @ dry.used[-1] > wet.weights @ wet.used[-1] + 0.02
    used = [
        float(one.weights @ one.used[-1]) for one in (learned([reading("x", last, "squeeze", k)]) for k in range(6))
    ]
    assert all(before > after for before, after in pairwise(used))
    assert used[0] > used[-1] + 0.02


def test_a_contradictory_pair_leaves_most_members_standing() -> None:
    day = TODAY - timedelta(3)
    pair = [reading("x", day, "feel", 0), replace(reading("y", day, "feel", 2), at=at(day, 18.5))]
    pair += [reading("u", day, "dial", 0.5, by="p"), replace(reading("v", day, "dial", 9.5, by="p"), at=at(day, 18.6))]
    got = learned(pair, count=400, draws=1)
    assert got.first_effective > 40
    assert np.isfinite(got.weights).all()
    low, high = got.band()
    before, after = learned([], count=400).band(), (low, high)
    assert (after[1] - after[0])[-1] > 0.5 * (before[1] - before[0])[-1]


def test_further_draws_mend_weights_that_few_members_carry() -> None:
    truth = truths(BED, draw_members(BED, 8, np.random.default_rng(8)))
    dates = [date(2017, 5, 20) + timedelta(3 * k) for k in range(16)]
    held = truth.wetness(dates[0], 0.15)
    assert len(held) == 8
    many = [
        reading(f"s{k}", d, "sensor", float(0.13 + 0.15 * truth.wetness(d, 0.15)[3]), by="s") for k, d in enumerate(dates)
    ]  # fmt: skip
    one, three = learned(many, count=300, draws=1), learned(many, count=300)
    assert one.first_effective < 30
    assert one.effective == pytest.approx(LEAST, rel=0.01)  # readings then count less, so that so many members stand
    assert three.draws > 1
    assert three.effective > 1.5 * one.effective
    assert three.first_effective == one.first_effective


def test_further_draws_leave_the_answer_as_a_very_large_first_draw_has_it() -> None:
    few, large = learned(SOME, count=300), learned(SOME, count=8000, draws=1)
    assert few.draws > 1
    for name in ("store", "demand", "catch", "delivery"):
        got, wanted = few.mean_sd(name), large.mean_sd(name)
        assert got[0] == pytest.approx(wanted[0], abs=0.2)
        assert got[1] == pytest.approx(wanted[1], abs=0.2)
    assert few.weights @ few.used[-1] == pytest.approx(large.weights @ large.used[-1], abs=0.02)


def test_picked_members_stand_where_they_stood() -> None:
    got = learned(SOME)
    members, state = pick(got, 80)
    days = place_days(garden(), BED, weather(), log(), members, until=TODAY)
    again = days.run(days.start(), 0, got.today)
    assert state.water_mm == pytest.approx(again.end.water_mm, abs=1e-9)
    assert days.used_fraction(state.water_mm[0], got.today).mean() == pytest.approx(
        got.weights @ got.used[-1], abs=0.03
    )


def test_readings_of_the_same_days_share_what_the_balance_gets_wrong() -> None:
    """Two on one day count as one and a part, by hand 2 / (1 + TIED); a month apart nearly as two; a flow never shares."""
    days = truths(BED, draw_members(BED, 2, np.random.default_rng(1))).days

    def counts(*some: Reading) -> FloatArray:
        return how_much([(r, moment_of(days, r.at, log())) for r in some])

    first, other = reading("x", JUNE, "feel", 0), reading("y", JUNE, "dial", 4.0, by="p")
    assert counts(first, other) == pytest.approx([1.0 / (1.0 + TIED)] * 2)
    assert counts(first, replace(other, at=at(JUNE + timedelta(30)))).sum() > 1.9
    assert counts(first, replace(first, id="again")) == pytest.approx([0.5, 0.5])
    assert counts(first, replace(first, id="squeezed", kind="squeeze", value=0)) == pytest.approx([0.5, 0.5])
    assert counts(first, reading("z", JUNE, "flow", 20.0)) == pytest.approx([1.0, 1.0])


def test_readings_that_fit_no_member_count_less() -> None:
    """Of a thousand alike, one far likelier than all others takes all the weight, but for the power that leaves it none."""
    base, likely = np.zeros(1000), np.where(np.arange(1000) == 7, 0.0, -50.0)
    weights = tempered(base, likely)
    assert effective(weights) == pytest.approx(LEAST, rel=0.01)
    assert np.argmax(weights) == 7
    mild = -0.5 * np.linspace(-1.0, 1.0, 1000) ** 2
    assert tempered(base, mild) == pytest.approx(np.exp(mild) / np.exp(mild).sum())


def test_what_is_forgotten_teaches_nothing() -> None:
    forget = LogEntry("f", at(JUNE), "forget", BED.name)
    entries = [
        LogEntry("1", at(JUNE - timedelta(1)), "reading", BED.name, reading="feel", value=0),
        LogEntry("2", at(JUNE + timedelta(1)), "reading", BED.name, reading="feel", value=2, instrument="hers"),
        LogEntry("3", at(JUNE - timedelta(1)), "forget", POT.name),
        LogEntry("4", at(JUNE - timedelta(2)), "reading", "", reading="flow", value=20.0, line="drip"),
    ]
    on_line = replace(BED, line="drip")
    assert [r.id for r in readings_of(entries, BED)] == ["1", "2"]
    assert [r.id for r in readings_of([*entries, forget], BED)] == ["2"]
    assert readings_of([*entries, forget], BED)[0].instrument == "hers"
    assert [(r.id, r.line) for r in readings_of(entries, on_line)] == [("1", ""), ("2", ""), ("4", "drip")]


def test_a_pot_is_learnt_by_the_hour() -> None:
    weighed = [reading(f"k{k}", date(2017, 6, 25) + timedelta(4 * k), "weight", 9.0 - k) for k in range(3)]
    weighed += [reading("b", date(2017, 6, 27), "came out below", 1), reading("l", date(2017, 7, 1), "lift", 1)]
    got = learn(garden(), POT, weather(), log(), weighed, TODAY, count=20, most_draws=2)
    assert got.weights.sum() == pytest.approx(1.0)
    assert len(got.readings) == 5
    assert got.names[-1] == "weight//0"


def test_a_bed_cannot_be_weighed() -> None:
    kinds: tuple[Kind, ...] = ("lift", "weight")
    for kind in kinds:
        with pytest.raises(InputError, match="only a pot or tray"):
            learned([reading("x", JUNE, kind, 1)])


def test_of_a_reading_and_a_watering_at_one_minute_the_reading_came_first() -> None:
    days = truths(BED, draw_members(BED, 2, np.random.default_rng(1))).days
    assert moment_of(days, log()[3].at, log()).part == 0.0


def test_readings_come_from_the_log() -> None:
    entries = [
        LogEntry("1", at(JUNE), "reading", BED.name, reading="dial", value=4.0, depth_m=0.2),
        LogEntry("2", at(JUNE), "reading", BED.name, reading="feel", value=2),
        LogEntry("3", at(JUNE), "reading", POT.name, reading="feel", value=0),
        LogEntry("4", at(JUNE), "water", BED.name, litres=4.0),
    ]
    got = readings_of(entries, BED)
    assert [(r.kind, r.value, r.depth_m) for r in got] == [("dial", 4.0, 0.2), ("feel", 2.0, 0.1)]


def test_a_reading_before_a_watering_does_not_see_it() -> None:
    days = truths(BED, draw_members(BED, 2, np.random.default_rng(1))).days
    watered = log()[3].at  # 8 o'clock by the clock
    before, after = (moment_of(days, watered + timedelta(hours=h), log()) for h in (-0.5, 0.5))
    assert (before.part, after.part) == (0.0, 1.0)
    assert before.step == after.step
    noon = moment_of(days, datetime.combine(watered.date() + timedelta(1), at(JUNE).time(), at(JUNE).tzinfo) + timedelta(hours=5), log())  # fmt: skip
    assert noon.part == pytest.approx(0.5)  # 13 o'clock by the clock, 12 without daylight saving


def test_normal_and_quantile() -> None:
    assert normal_cdf([0.0, 1.96]) == pytest.approx([0.5, 0.975], abs=1e-4)
    values = np.arange(101.0)[None]
    assert weighted_quantile(values, np.ones(101), 0.1)[0] == pytest.approx(9.6)
    heavy = np.where(np.arange(101) == 70, 1000.0, 1.0)
    assert weighted_quantile(values, heavy, 0.5)[0] == pytest.approx(70.0, abs=0.5)
    assert effective(np.full(5, 0.2)) == pytest.approx(5.0)


AHEAD = (1, 3, 7, 14)
#: How far a truth may lie beyond a band and count as inside: figures are shown to a hundredth.
SLACK = 0.005


def ahead_band(place: Place, got: Learnt) -> tuple[FloatArray, FloatArray]:
    members, state = pick(got, 200)
    days = place_days(garden(), place, weather(), log(), members, until=TODAY)
    used = days.used_by_day(days.run(state, got.today, got.today + max(AHEAD)), got.today)[[a - 1 for a in AHEAD]]
    return np.quantile(used, 0.1, axis=1), np.quantile(used, 0.9, axis=1)


@pytest.mark.parametrize(("place", "n"), [(BED, 120), (POT, 60)], ids=["bed", "pot"])
def test_bands_hold_where_the_truth_is_drawn_from_the_prior(place: Place, n: int) -> None:
    rng = np.random.default_rng(20)
    truth = truths(place, draw_members(place, n + 1, rng))
    wanted = truth.used(AHEAD)[:, 1:]

    def learned_of(readings: list[Reading], count: int | None = None) -> Learnt:
        return learn(garden(), place, weather(), log(), readings, TODAY, count=count)

    prior = ahead_band(place, learned_of([], 400))
    before = ((wanted >= prior[0][:, None]) & (wanted <= prior[1][:, None])).mean(1)
    dates = (
        [TODAY - timedelta(33 - 7 * k) for k in range(5)]
        if place is BED
        else [TODAY - timedelta(14 - 4 * k) for k in range(4)]
    )
    within, widths = np.zeros((len(AHEAD), n)), []
    for k in range(n):
        a, b = ahead_band(place, learned_of(taken(truth, k + 1, rng, dates)))
        within[:, k] = (wanted[:, k] >= a - SLACK) & (wanted[:, k] <= b + SLACK)
        widths.append(b - a)
    after = within.mean(1)
    narrower = np.mean(widths, axis=0) / (prior[1] - prior[0])
    print(f"within 80 % bands {AHEAD} days ahead: before {before}, after {after}; width after over before {narrower}")
    off = 2.5 * (0.8 * 0.2 / n) ** 0.5  # of so many truths
    assert ((before >= 0.8 - off) & (before <= 0.85 + off)).all()
    assert ((after >= 0.8 - off) & (after <= 0.85 + off)).all()
    if place is BED:  # a pot that is watered every morning is as full as it can be, whatever the scales say
        assert narrower[0] < 1.0
