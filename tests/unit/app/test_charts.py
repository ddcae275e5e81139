"""The data of the charts against the plain numbers they were made from."""

from __future__ import annotations

import gzip
import itertools
import json
import re
from dataclasses import dataclass, replace
from datetime import date, timedelta
from importlib.resources import files

import pytest

from soakbook.advice.season import Month
from soakbook.app.chart_parts import nice_ticks
from soakbook.app.charts import (
    Account,
    Chart,
    DayWeather,
    Held,
    balance_through_time,
    months_of_season,
    reasons_chart,
    season_accounts,
    weather_by_day,
    week_strip,
)
from tests.unit.app.plain_reader import PlainReader

READER, US = PlainReader(), PlainReader("US")
FIRST = date(2017, 7, 3)
WEEK = [
    DayWeather(FIRST + timedelta(days=i), 5.0 + i, (0.0, 6.0, 0.0, 0.0, 12.5, 0.0, 0.0)[i], i == 3) for i in range(7)
]
HELD = Held(
    first=FIRST, past=4, used=[0.1, 0.2, 0.3, 0.45, 0.5, 0.55, 0.62], limit=[0.5] * 6 + [0.6],
    waterings=[(date(2017, 7, 4), 20.0), (date(2017, 7, 4), 5.0)], rain=[(date(2017, 7, 5), 11.0)],
    readings=[(date(2017, 7, 6), 0.35)], bands=[("nine of ten", [0.4, 0.45, 0.5], [0.6, 0.7, 0.8])],
)  # fmt: skip


@dataclass(frozen=True)
class Cause:
    cause: str
    depth_mm: float
    litres: float


REASONS = [
    Cause("missing before", 4.0, 8.0),
    Cause("drawn by the plants", 21.5, 43.0),
    Cause("rain that went in", -9.0, -18.0),
]
MONTHS = [
    Month(date(2017, 5, 1), 31, 4, 7.75, 50.0, 200.0, 4.0, 60.0),
    Month(date(2017, 6, 1), 30, 10, 3.0, 55.0, 550.0, 5.0, 50.0),
    Month(date(2017, 7, 1), 10, 0, float("nan"), 0.0, 0.0, 5.0, 90.0),
]
ACCOUNTS = [Account("tomato bed", 400.0, 250.0, 30.0), Account("salad under the oak", 120.0, 310.0, 0.0)]
ALL = [
    week_strip(WEEK, READER), months_of_season(MONTHS, READER), balance_through_time(HELD, READER), weather_by_day(WEEK, READER),
    season_accounts(ACCOUNTS, "place", READER), reasons_chart(REASONS, READER),
]  # fmt: skip


def items(chart: Chart, kind: str, look: str) -> list[list[float]]:
    return [
        item for mark in chart.block["marks"] if (mark["type"], mark["look"]) == (kind, look) for item in mark["items"]
    ]


@pytest.mark.parametrize("chart", ALL, ids=lambda c: c.name)
def test_block_is_plain_json_without_holes(chart: Chart) -> None:
    assert json.loads(json.dumps(chart.block, allow_nan=False)) == chart.block


@pytest.mark.parametrize("chart", ALL, ids=lambda c: c.name)
def test_every_mark_lies_on_the_axes(chart: Chart) -> None:
    (x0, x1), (y0, y1) = (sorted((chart.block[a]["from"], chart.block[a]["to"])) for a in "xy")
    for mark in chart.block["marks"]:
        for item in mark["items"]:
            xs = {"bar": item[:2]}.get(mark["type"], item[:1])
            ys = {"bar": item[2:], "band": item[1:], "rule": []}.get(mark["type"], item[1:2])
            assert all(x0 - 1e-6 <= v <= x1 + 1e-6 for v in xs), mark
            assert all(y0 - 1e-6 <= v <= y1 + 1e-6 for v in ys), mark


@pytest.mark.parametrize("chart", ALL, ids=lambda c: c.name)
def test_table_has_a_row_for_each_point_and_a_cell_for_each_heading(chart: Chart) -> None:
    assert len(chart.rows) == len(chart.block["points"])
    assert {len(row) for row in chart.rows} == {len(chart.head)}
    for row, point in zip(chart.rows, chart.block["points"], strict=True):
        assert row[0] in point["label"]
        assert row[1] in point["label"]


@pytest.mark.parametrize("chart", ALL, ids=lambda c: c.name)
def test_every_look_drawn_is_told_in_the_key(chart: Chart) -> None:
    plain = {"row", "end", "amount", "step", "today", "none"}
    drawn = {m["look"] for m in chart.block["marks"] if m["items"]} - plain
    assert drawn == {k["look"] for k in chart.block["key"]}
    assert all(k["text"] for k in chart.block["key"])


def test_week_bars_are_the_days_numbers() -> None:
    chart = ALL[0]
    assert [bar[3] for bar in items(chart, "bar", "demand")] == [d.demand_mm for d in WEEK]
    assert [bar[3] for bar in items(chart, "bar", "rain")] == [d.rain_mm for d in WEEK]
    assert chart.block["points"][1]["label"] == "Tue 4 Jul: rain 6.0 mm, demand 6.0 mm"
    assert len(items(chart, "dot", "none")) == 5  # a day without rain says so with a dot


def test_days_that_nobody_forecast_are_not_told_as_dry() -> None:
    """Two days forecast, one of them dry; of the five after that nothing is known but what is usual."""
    week = [replace(day, rain_mm=0.0, is_usual=True) if i > 1 else day for i, day in enumerate(WEEK)]
    some = week_strip(week, READER, 24.2)
    assert "6 mm of rain is expected up to Tue 4 Jul, and after that about 24 mm is usual" in some.says
    assert len(items(some, "dot", "none")) == 1
    assert [row[2] for row in some.rows] == ["0.0 mm", "6.0 mm", *["not known"] * 5]
    assert some.block["points"][2]["label"] == "Wed 5 Jul: rain not known, demand 7.0 mm"
    none = week_strip([replace(day, rain_mm=0.0, is_usual=True) for day in WEEK], READER, 24.2)
    assert "about 24 mm of rain is usual, on days nobody knows" in none.says
    assert "expected" not in none.says


def test_axis_of_us_reader_counts_inches_over_the_same_millimetres() -> None:
    axis = week_strip(WEEK, US).block["y"]
    for position, text in axis["ticks"]:
        assert float(text.split()[0]) == pytest.approx(position / 25.4, abs=0.0051)
    assert axis["ticks"][-1][1].endswith(" in")
    assert axis["to"] >= 12.5


@pytest.mark.parametrize("most", [0.003, 0.9, 1.0, 6.0, 7.3, 58.0, 1234.0])
def test_nice_ticks_reach_the_most_in_few_steps(most: float) -> None:
    ticks = nice_ticks(most)
    assert ticks[-1] >= most * 0.9999
    assert ticks[-2] < most
    assert 3 <= len(ticks) <= 6


def test_months_show_how_often_and_a_month_without_watering() -> None:
    chart = ALL[1]
    assert [bar[3] for bar in items(chart, "bar", "water")] == [200.0, 550.0, 0.0]
    assert [text[2] for text in items(chart, "text", "above")] == ["7.8 d", "3.0 d", "–"]
    assert chart.rows[2][1] == "no watering"
    assert "June" in chart.says


def test_balance_line_is_whole_in_the_past_and_goes_on_from_it() -> None:
    chart = ALL[2]
    past, ahead = items(chart, "line", "held"), items(chart, "line", "ahead")
    assert [y for _, y in past] == list(HELD.used[:4])
    assert [y for _, y in ahead] == list(HELD.used[3:])
    assert past[-1] == ahead[0]
    assert chart.block["y"]["from"] > chart.block["y"]["to"]  # full is at the top


def test_balance_marks_stand_on_their_days_with_amounts() -> None:
    chart = ALL[2]
    assert [x for x, _ in items(chart, "dot", "watering")] == [1.5, 1.5]
    assert [x for x, _ in items(chart, "dot", "reading")] == [3.5]
    assert chart.block["start"] == HELD.past
    assert {"20 L", "5 L", "11 mm"} <= {t[2] for t in items(chart, "text", "amount")}
    assert chart.rows[1][3] == "25 L"
    assert "watered 25 L" in chart.block["points"][1]["label"]
    assert items(chart, "band", "fan-0") == [[5.0, 0.4, 0.6], [6.0, 0.45, 0.7], [7.0, 0.5, 0.8]]


def test_balance_says_the_day_the_limit_is_reached() -> None:
    assert "Fri 7 Jul" in ALL[2].says
    never = Held(FIRST, 4, [0.1] * 7, [0.5] * 7)
    assert "not reached" in balance_through_time(never, READER).says
    past = Held(FIRST, 4, [0.6] * 7, [0.5] * 7)
    assert "past the limit" in balance_through_time(past, READER).says


def test_filled_days_carry_a_shape_and_a_word() -> None:
    chart = ALL[3]
    assert [x for x, _ in items(chart, "dot", "filled")] == [3.5]
    assert [row[3] for row in chart.rows].count("filled in") == 1
    recorded = weather_by_day([DayWeather(d.on, d.demand_mm, d.rain_mm) for d in WEEK], READER)
    assert "filled" not in {k["look"] for k in recorded.block["key"]}


def test_reasons_begin_where_the_last_one_ended_and_add_up() -> None:
    chart = ALL[5]
    steps = sorted(items(chart, "bar", "taken") + items(chart, "bar", "came"), key=lambda bar: bar[2])
    assert steps[0][0] == 0.0
    assert all(a[1] == b[0] for a, b in itertools.pairwise(steps))
    ((start, missing, *_),) = items(chart, "bar", "missing")
    assert (start, missing) == (0.0, pytest.approx(sum(r.depth_mm for r in REASONS)))
    assert steps[-1][1] == missing
    assert chart.rows[2][1] == "−9.0 mm"
    assert chart.rows[-1][1:] == ("16.5 mm", "33 L")


def test_season_bars_are_the_accounts() -> None:
    chart = ALL[4]
    for look, field in (("water", "given_l"), ("rain", "rain_l"), ("drained", "drained_l")):
        assert [bar[1] for bar in items(chart, "bar", look)] == [getattr(a, field) for a in ACCOUNTS]
    assert chart.rows[0] == ("tomato bed", "400 L", "250 L", "30 L")


def test_drawing_library_is_small_and_has_its_licences() -> None:
    static = files("soakbook.app") / "static"
    assert len(gzip.compress((static / "plot.js").read_bytes(), 9)) <= 75_000
    licences = (static / "LICENSES.txt").read_text(encoding="utf-8")
    parts = ("@observablehq/plot", "d3-array", "d3-color", "d3-format", "d3-interpolate", "d3-path", "d3-scale", "d3-selection",
             "d3-shape", "d3-time", "d3-time-format", "internmap", "isoformat")  # fmt: skip
    assert all(re.search(rf"{re.escape(part)} \d", licences) for part in parts)


def test_scripts_write_no_style_and_evaluate_nothing() -> None:
    for name in ("plot.js", "charts.js"):
        text = (files("soakbook.app") / "static" / name).read_text(encoding="utf-8")
        for refused in ('append("style")', "new Function", "eval(", 'setAttribute("style"'):
            assert refused not in text, (name, refused)


def test_parts_in_inches_are_fine_enough_to_add_up() -> None:
    parts = [float(row[1].replace("−", "-").split()[0]) for row in reasons_chart(REASONS, US).rows]
    assert sum(parts[:-1]) == pytest.approx(parts[-1], abs=0.005 * len(parts))


FAN = replace(
    HELD, lay=([0.05, 0.1, 0.2, 0.35], [0.2, 0.3, 0.4, 0.55]),
    bands=[("wide", [0.35, 0.4, 0.42, 0.45], [0.55, 0.6, 0.7, 0.8]), ("narrow", [0.4, 0.45, 0.5, 0.55], [0.5, 0.55, 0.6, 0.7])],
    signs=[date(2017, 7, 5)],
)  # fmt: skip


def test_the_fan_goes_on_where_the_past_band_ends() -> None:
    wide = items(balance_through_time(FAN, READER), "band", "fan-0")
    assert [x for x, _, _ in wide] == [1, 2, 3, 4, 4, 5, 6, 7]
    assert wide[3][1:] == wide[4][1:] == [0.35, 0.55]
    assert [x for x, _, _ in items(balance_through_time(FAN, READER), "band", "fan-1")] == [4, 5, 6, 7]


def test_each_day_says_between_what_it_lies() -> None:
    chart = balance_through_time(FAN, READER)
    assert chart.head[-1] == "wide"
    assert [row[-1] for row in chart.rows] == [
        "5 % to 20 %", "10 % to 30 %", "20 % to 40 %", "35 % to 55 %", "40 % to 60 %", "42 % to 70 %", "45 % to 80 %",
    ]  # fmt: skip
    assert "likely 40 % to 60 %" in chart.block["points"][4]["label"]


def test_a_band_without_a_past_leaves_its_days_empty() -> None:
    assert [row[-1] for row in balance_through_time(HELD, READER).rows][:4] == [""] * 4


def test_it_says_how_early_and_how_late_the_limit_may_be_reached() -> None:
    held = replace(FAN, used=[0.1, 0.2, 0.3, 0.45, 0.47, 0.55, 0.62])
    says = balance_through_time(held, READER).says
    assert "reached on Sat 8 Jul if nothing is given" in says  # 0.55 on the sixth day, limit 0.5
    assert says.endswith(
        "It may be as early as Fri 7 Jul, or not in the days shown."
    )  # 0.60 against 0.5; 0.45 against 0.6
    late = replace(held, bands=[("wide", [0.35, 0.4, 0.42, 0.65], [0.55, 0.6, 0.7, 0.8])])
    assert balance_through_time(late, READER).says.endswith("It may be as early as Fri 7 Jul or as late as Sun 9 Jul.")


def test_signs_stand_apart_from_readings_that_are_a_share() -> None:
    marks = balance_through_time(FAN, READER).block
    assert len(items(balance_through_time(FAN, READER), "dot", "sign")) == 1
    assert ("dot", "sign") in {(k["type"], k["look"]) for k in marks["key"]}
