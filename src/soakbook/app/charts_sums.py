"""Charts of sums: waterings by month, the season's account, and how what is missing adds up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.chart_parts import (
    AXIS_PX,
    ROW_PX,
    Chart,
    Reader,
    axis_from_zero,
    depth_text,
    key,
    mark,
    point,
    rows_axis,
)

if TYPE_CHECKING:
    from soakbook.advice.decide import Reason
    from soakbook.advice.season import Month


@dataclass(frozen=True)
class Account:
    """Water of a month or a place, in litres: given, used of the rain, and drained away below the roots."""

    label: str
    given_l: float
    rain_l: float
    drained_l: float


def months_of_season(months: Sequence[Month], reader: Reader) -> Chart:
    """Litres in each month as bars, with the days between waterings over them."""

    def spell(days: float) -> str:
        return reader.number(days, 0 if days >= 9.95 else 1)

    def every(m: Month) -> str:
        return reader.t("no watering") if m.soaks == 0 else reader.t("every {n} days", n=spell(m.every_days))

    axis = axis_from_zero(max([1.0, *(m.litres for m in months)]) * 1.12, "volume", reader)
    wettest = max(months, key=lambda m: m.litres)
    said = [
        reader.t(
            "{month}: {how_often}, {each} each time, {litres} in all", month=reader.month(m.month), how_often=every(m),
            each=reader.amount(m.litres_each_time), litres=reader.amount(m.litres),
        )
        for m in months
    ]  # fmt: skip
    return Chart(
        name="months",
        title=reader.t("Through the season"),
        says=reader.t(
            "Most is needed in {month}: {how_often}, {litres} in the month.", month=reader.month(wettest.month),
            how_often=every(wettest), litres=reader.amount(wettest.litres),
        ),
        block={
            "height": 200,
            "along": "x",
            "x": {
                "from": 0,
                "to": len(months),
                "ticks": [[i + 0.5, reader.month(m.month, "short")] for i, m in enumerate(months)],
            },
            "y": axis,
            "marks": [
                mark("bar", "water", [[i + 0.18, i + 0.82, 0, m.litres] for i, m in enumerate(months)]),
                mark(
                    "text",
                    "above",
                    [
                        [i + 0.5, m.litres, reader.t("{n} d", n=spell(m.every_days)) if m.soaks else "–"]
                        for i, m in enumerate(months)
                    ],
                ),
            ],
            "points": [point(i, i + 1, text) for i, text in enumerate(said)],
            "key": key(
                ("bar", "water", reader.t("water to give in the month")),
                ("text", "above", reader.t("days from one watering to the next")),
            ),
            "help": reader.t("Touch the picture or use the arrow keys to read it month by month."),
        },
        head=(reader.t("month"), reader.t("how often"), reader.t("each time"), reader.t("in the month")),
        rows=tuple(
            (reader.month(m.month), every(m), reader.amount(m.litres_each_time), reader.amount(m.litres)) for m in months
        ),
    )  # fmt: skip


def season_accounts(accounts: Sequence[Account], by: str, reader: Reader) -> Chart:
    """Water given, rain used and water drained away, one group of bars to a month or a place.

    ``by`` is ``"month"`` or ``"place"``. Read downwards, so that long names and narrow screens go together.
    """
    looks = (("water", reader.t("given")), ("rain", reader.t("rain used")), ("drained", reader.t("drained away")))
    values = [(a.given_l, a.rain_l, a.drained_l) for a in accounts]
    most = max([1.0, *(v for row in values for v in row)])
    axis = axis_from_zero(most, "volume", reader, 3)
    rows = tuple((a.label, *(reader.amount(v) for v in row)) for a, row in zip(accounts, values, strict=True))
    marks = [mark("text", "row", [[0.0, r + 0.34, a.label] for r, a in enumerate(accounts)])]
    for k, (look, _) in enumerate(looks):
        top = 0.36 + 0.2 * k
        marks.append(mark("bar", look, [[0, row[k], r + top, r + top + 0.17] for r, row in enumerate(values)]))
    given, rain, drained = (sum(row[k] for row in values) for k in range(3))
    by_month = by == "month"
    return Chart(
        name=f"season-{by}",
        title=reader.t("Water by month") if by_month else reader.t("Water by place"),
        says=reader.t(
            "In all {given} were given, {rain} of rain were used, and {drained} drained away below the roots.",
            given=reader.amount(given), rain=reader.amount(rain), drained=reader.amount(drained),
        ),
        block={
            "height": 62 * len(accounts) + AXIS_PX,
            "along": "y",
            "x": axis,
            "y": rows_axis(len(accounts)),
            "marks": marks,
            "points": [
                point(r, r + 1, reader.t("{name}: {given} given, {rain} of rain used, {drained} drained away",
                                          name=a, given=b, rain=c, drained=d))
                for r, (a, b, c, d) in enumerate(rows)
            ],
            "key": key(*(("bar", look, text) for look, text in looks)),
            "help": reader.t("Touch the picture or use the arrow keys to read it row by row."),
        },
        head=(reader.t("month") if by_month else reader.t("place"), *(text for _, text in looks)),
        rows=rows,
    )  # fmt: skip


def reasons_chart(reasons: Sequence[Reason], reader: Reader) -> Chart:
    """How what is missing adds up from a full soil: one bar to a cause, each beginning where the last one ended."""
    steps: list[tuple[str, float, float, float]] = []
    so_far = 0.0
    for reason in reasons:
        steps.append((reader.tell(reason.cause), so_far, so_far + reason.depth_mm, reason.litres))
        so_far += reason.depth_mm
    total = sum(r.litres for r in reasons)
    ends = [v for _, a, b, _ in steps for v in (a, b)]
    axis = axis_from_zero(max([1.0, *ends]), "depth", reader)
    lowest = min([0.0, *ends])
    n = len(steps)
    sign = [_signed(b - a, reader) for _, a, b, _ in steps]
    missing = reader.t("missing now")
    names = [*(name for name, *_ in steps), missing]
    amounts = [*sign, depth_text(so_far, reader)]
    rows = tuple(
        (name, amount, reader.amount(litres))
        for name, amount, litres in zip(names, amounts, [*(s[3] for s in steps), total], strict=True)
    )

    def bars(is_loss: bool) -> list[list[float]]:
        return [[a, b, r + 0.64, r + 0.94] for r, (_, a, b, _) in enumerate(steps) if (b > a) is is_loss]

    return Chart(
        name="reasons",
        title=reader.t("How it adds up"),
        says=reader.t(
            "From full soil to now: {depth} are missing over the watered part, {litres} in all.",
            depth=depth_text(so_far, reader), litres=reader.amount(total),
        ),
        block={
            "height": ROW_PX * (n + 1) + AXIS_PX,
            "along": "y",
            "x": {**axis, "from": round(1.05 * lowest, 4)},
            "y": rows_axis(n + 1),
            "marks": [
                mark("bar", "taken", bars(True)),
                mark("bar", "came", bars(False)),
                mark("bar", "missing", [[0.0, so_far, n + 0.64, n + 0.94]]),
                mark("step", "step", [[b, r + 0.94, r + 1.64] for r, (_, _, b, _) in enumerate(steps)]),
                mark("text", "row", [[axis["from"], r + 0.62, name] for r, name in enumerate(names)]),
                mark("text", "end", [[axis["to"], r + 0.62, amount] for r, amount in enumerate(amounts)]),
            ],
            "points": [point(r, r + 1, f"{a}: {b}, {c}") for r, (a, b, c) in enumerate(rows)],
            "key": key(
                ("bar", "taken", reader.t("taken from the soil")), ("bar", "came", reader.t("came into the soil")),
                ("bar", "missing", missing),
            ),
            "help": reader.t("Touch the picture or use the arrow keys to read it row by row."),
        },
        head=(reader.t("cause"), reader.t("depth over the watered part"), reader.t("amount")),
        rows=rows,
    )  # fmt: skip


def _signed(depth_mm: float, reader: Reader) -> str:
    sign = "+" if depth_mm >= 0 else "−"
    return f"{sign}{depth_text(abs(depth_mm), reader)}"
