"""A place day by day: every store and flux of its run, as rows of plain numbers."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from soakbook.balance.columns import FLUXES, SOGGY, STRESS

if TYPE_CHECKING:
    from soakbook.advice.belief import Belief
    from soakbook.balance.columns import Result
    from soakbook.balance.place import PlaceDays


def balance_rows(
    days: PlaceDays, result: Result, depths_m: Sequence[float], belief: Belief | None = None
) -> list[dict[str, Any]]:
    """One dictionary a day: fluxes in mm over the place, water contents in m3/m3.

    Parameters
    ----------
    days
        The place.
    result
        Its run from the first day on.
    depths_m
        Depths at which to give the water content.
    belief
        Of the same place and days: adds the band that holds what was used with odds of 8 in 10.
    """
    n = days.steps_a_day
    rows = []
    for d in range(result.fluxes.shape[1] // n):
        flux = result.fluxes[0, d * n : (d + 1) * n, :, 0]
        water = result.water_mm[0, (d + 1) * n - 1]
        row: dict[str, Any] = {"date": str(days.days[d]), "eto_mm": round(float(days.eto_mm[d]), 4)}
        for k, name in enumerate(FLUXES):
            value = flux[:, k].mean() if k in (STRESS, SOGGY) else flux[:, k].sum()
            row[name if k in (STRESS, SOGGY) else f"{name}_mm"] = round(float(value), 4)
        row["root_depth_m"] = round(float(days.crops.root_m[d]), 4)
        row["available_when_full_mm"] = round(float(days.store_mm(d)[0]), 4)
        row["missing_mm"] = round(float(days.missing_mm(water, d)[0]), 4)
        row["used_fraction"] = round(float(days.used_fraction(water, d)[0]), 5)
        if belief is not None:
            row["used_low"] = round(float(belief.past_low[d]), 5)
            row["used_high"] = round(float(belief.past_high[d]), 5)
        for depth in depths_m:
            row[f"theta_{100 * depth:g}cm"] = round(float(days.theta_at(water, depth, d)[0]), 5)
        for k in range(water.shape[1]):
            top, bottom = 100 * days.laid.edges_m[k], 100 * days.laid.edges_m[k + 1]
            wet = days.area_wet(d)
            mean = wet * water[0, k, 0] + (1 - wet) * water[-1, k, 0]
            row[f"store_{top:.0f}_{bottom:.0f}cm_mm"] = round(float(mean), 4)
        rows.append(row)
    return rows


def rows_text(rows: Sequence[dict[str, Any]]) -> str:
    """Rows as CSV, with the names of the first row as its head; nothing without rows."""
    if not rows:
        return ""
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
