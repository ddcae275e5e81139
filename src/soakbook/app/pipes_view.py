"""What comes out along lines, as its page shows it: figures, charts, the picture from above, and what limits it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.chart_parts import Chart
from soakbook.app.charts_pipes import flow_along, pressure_along
from soakbook.app.pipes_svg import EVEN_FROM, pipes_svg

if TYPE_CHECKING:
    from soakbook.app.pipes_form import PipesWanted
    from soakbook.app.reader import Reader
    from soakbook.delivery.line import Judged, Outlet


@dataclass(frozen=True)
class PipesShown:
    """The answer. ``rows``: each line with its least, its most and the pressures at its ends; ``uneven`` and ``dry``: whether the picture has such stretches."""

    lead: str
    verdict: str
    facts: tuple[tuple[str, str], ...]
    charts: tuple[Chart, ...]
    svg: str
    rows: tuple[tuple[str, ...], ...]
    limits: tuple[str, ...]
    fittings: tuple[str, ...]
    cautions: tuple[str, ...]
    uneven: bool
    dry: bool


def pipes_shown(wanted: PipesWanted, r: Reader) -> PipesShown:
    """Solve the lines, and say so in the reader's words."""
    from soakbook.delivery.line import judge_lines

    lateral = wanted.lateral
    judged = judge_lines(
        lateral, wanted.lines, wanted.manifold, wanted.feed, means="soaker" if wanted.is_soaker else "drip"
    )
    least = min(judged.outlets, key=lambda o: (o.flow_lph, -o.line))
    most = max(judged.outlets, key=lambda o: o.flow_lph)
    per_m = 1.0 / lateral.spacing_m if wanted.is_soaker else None
    lead = _lead(judged, wanted, r)
    return PipesShown(
        lead, _capital(r.tell(judged.verdict)), tuple(_facts(judged, wanted, (least, most), per_m, r)),
        (
            flow_along(judged.outlets, least, most, EVEN_FROM * most.flow_lph, per_m, r),
            pressure_along(judged.outlets, *_by_head(judged.outlets), r),
        ),
        pipes_svg(judged.outlets, least, most, wanted.manifold, lateral.spacing_m, r), tuple(_rows(judged, wanted.lines, per_m, r)),
        _told(judged.limits, r), _told(judged.fittings, r), _told(judged.cautions, r),
        least.flow_lph < EVEN_FROM * most.flow_lph, judged.dry > 0,
    )  # fmt: skip


def _told(texts: tuple[str, ...], r: Reader) -> tuple[str, ...]:
    return tuple(r.tell(text) for text in texts)


def _lead(judged: Judged, wanted: PipesWanted, r: Reader) -> str:
    values = {"flow": r.quantity(judged.total_lph, "flow", 1), "head": _pressure(judged.supply_head_m, r)}
    if wanted.is_soaker:
        return r.tn(
            "{n} soaker hose: {flow} at {head}.", "{n} soaker hoses: {flow} in all at {head}.", wanted.lines, **values
        )
    each = r.tn("{n} emitter", "{n} emitters", wanted.lateral.count)
    return r.tn(
        "{n} line of {each}: {flow} at {head}.",
        "{n} lines of {each}: {flow} in all at {head}.",
        wanted.lines,
        each=each,
        **values,
    )


def _by_head(outlets: tuple[Outlet, ...]) -> tuple[Outlet, Outlet]:
    return min(outlets, key=lambda o: (max(o.head_m, 0.0), -o.line)), max(outlets, key=lambda o: o.head_m)


def _facts(
    judged: Judged, wanted: PipesWanted, ends: tuple[Outlet, Outlet], per_m: float | None, r: Reader
) -> list[tuple[str, str]]:
    def one(o: Outlet) -> str:
        flow = r.quantity(o.flow_lph * (per_m or 1.0), "flow", 3)
        return r.t("{flow} on line {n}, {place} along it", flow=flow, n=o.line, place=r.quantity(o.at_m, "length"))

    facts = [
        (r.t("least"), one(ends[0])),
        (r.t("most"), one(ends[1])),
        (r.t("they differ by"), f"{r.number(100.0 * judged.variation, 1)} %"),
        (r.t("emission uniformity"), r.percent(judged.eu_pct / 100.0)),
        (r.t("distribution uniformity"), r.percent(judged.du_pct / 100.0)),
        (r.t("pressure at the supply's outlet"), _pressure(judged.supply_head_m, r)),
        (r.t("lost in the pipe to the worst line"), _pressure(judged.header_loss_m, r)),
        (r.t("lost along that line"), _pressure(judged.line_loss_m, r)),
    ]
    if judged.dry:
        facts.append((r.t("give nothing"), r.tn("{n} emitter", "{n} emitters", judged.dry)))
    if judged.longest_count and not wanted.is_soaker:
        each = r.tn("{n} emitter", "{n} emitters", judged.longest_count)
        facts.append((r.t("longest line within a tenth"), r.t("{length}, {each}", length=r.quantity(judged.longest_m, "length"), each=each)))  # fmt: skip
    if judged.at_once is not None:
        facts.append((r.t("at once"), r.tn(
            "{n} such line, with a fifth of the flow to spare", "{n} such lines, with a fifth of the flow to spare", judged.at_once,
        )))  # fmt: skip
    return facts


def _rows(judged: Judged, lines: int, per_m: float | None, r: Reader) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for n in range(1, lines + 1):
        own = [o for o in judged.outlets if o.line == n]
        flows = [o.flow_lph * (per_m or 1.0) for o in own]
        rows.append((
            r.t("line {n}", n=n), r.quantity(sum(o.flow_lph for o in own), "flow", 1), r.quantity(min(flows), "flow", 2),
            r.quantity(max(flows), "flow", 2), _pressure(own[0].head_m, r), _pressure(own[-1].head_m, r),
        ))  # fmt: skip
    return rows


def _pressure(head_m: float, r: Reader) -> str:
    from soakbook.physics.pipes import KPA_PER_M

    return r.quantity(max(head_m, 0.0) * KPA_PER_M, "pressure", 1 if r.units == "US" or head_m < 2.0 else 0)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
