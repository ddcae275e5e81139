"""Drip lines for a bed as their page shows them: figures, reasons, what to buy, what belongs before the lines, and the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.lay_svg import lay_svg, near_reach_m
from soakbook.errors import InputError
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.app.lay_form import Wanted
    from soakbook.app.reader import Reader
    from soakbook.delivery.lay import Layout, Part

#: The most emitters worked out for a page: more than a bed has, and few enough not to keep others waiting.
MOST_EMITTERS = 10_000


@dataclass(frozen=True)
class LayShown:
    """The answer. ``parts`` are pieces, length and what; ``near`` is the picture of one end, larger, where the whole bed is drawn small."""

    lead: str
    facts: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]
    parts: tuple[tuple[str, str, str], ...]
    fittings: tuple[str, ...]
    cautions: tuple[str, ...]
    svg: str
    near: str
    has_rows: bool


def lay_shown(wanted: Wanted, r: Reader) -> LayShown:
    """Lay the lines, and say so in the reader's words."""
    from soakbook.delivery.lay import lay

    _bounded(wanted)
    made = lay(
        wanted.length_m, wanted.width_m, rows=wanted.rows, wetted_m=wanted.wetted_m, grounds=wanted.grounds, plants_apart_m=wanted.plants_apart_m,
        feed=wanted.feed, rise=wanted.rise, lead_m=wanted.lead_m, emitter_lph=wanted.emitter_lph,
    )  # fmt: skip
    reach = near_reach_m(made)
    return LayShown(
        r.tn(
            "{n} line, an emitter every {every}, {flow} in all.", "{n} lines, an emitter every {every}, {flow} in all.",
            len(made.lines_m), every=r.quantity(made.emitter_spacing_m, "length"), flow=r.quantity(made.flow_lph, "flow"),
        ),
        tuple(_facts(made, r)), tuple(r.tell(text) for text in made.reasons), tuple(_part(part, r) for part in made.parts),
        tuple(r.tell(text) for text in made.fittings), tuple(r.tell(text) for text in made.cautions), lay_svg(made, r),
        lay_svg(made, r, reach) if reach is not None else "", bool(made.rows_m),
    )  # fmt: skip


def _bounded(wanted: Wanted) -> None:
    from soakbook.delivery.circle import wet_under
    from soakbook.delivery.lay import line_places_m, row_places_m, spacing_for_m

    wet = wet_under(wanted.width_m, wanted.wetted_m, wanted.grounds, wanted.emitter_lph).width_m
    rows_m = row_places_m(wanted.width_m, wanted.rows) if wanted.rows else ()
    lines = len(line_places_m(wanted.width_m, rows_m, wet))
    count = lines * math.ceil(wanted.length_m / spacing_for_m(wet, wanted.plants_apart_m if wanted.rows else None))
    if count > MOST_EMITTERS:
        raise InputError(
            say("That would be {count} emitters; up to {most} are worked out here.", count=count, most=MOST_EMITTERS),
            code="lay.many", field="length", hint=say("Lay out one bed, or a part of the field."),
        )  # fmt: skip


def _facts(made: Layout, r: Reader) -> list[tuple[str, str]]:
    from soakbook.delivery.lay import place_digits
    from soakbook.physics.pipes import KPA_PER_M

    places = ", ".join(r.quantity(y, "length", place_digits(y, r.units)) for y in made.lines_m[:12]) + (
        " …" if len(made.lines_m) > 12 else ""
    )
    kind = r.t("compensating") if made.is_compensating else r.t("plain")
    head = made.lowest_head_m
    facts = [
        (r.t("lines"), r.t("{n}, at {places} from the long edge", n=len(made.lines_m), places=places)),
        (r.t("emitters"), r.t(
            "{kind}, {flow}, every {every}, {n} to a line", kind=kind, flow=r.quantity(made.emitter_lph, "flow", 1),
            every=r.quantity(made.emitter_spacing_m, "length"), n=made.emitters_per_line,
        )),
        (r.t("wet circle"), _circle(made, r)),
        (r.t("flow of one line"), r.quantity(made.line_lph, "flow")),
        (r.t("flow in all"), r.quantity(made.flow_lph, "flow")),
        (r.t("over the bed"), r.quantity(made.rate_mm_h, "rate")),
        (r.t("least pressure"), r.quantity(head * KPA_PER_M, "pressure", 1 if r.units == "US" or head < 2.0 else 0)),
        (r.t("evenness"), r.t(
            "emitters differ by {variation}; emission uniformity {uniformity}",
            variation=f"{r.number(100.0 * made.variation, 1)} %", uniformity=r.percent(made.eu_pct / 100.0),
        )),
    ]  # fmt: skip
    if made.at_once is not None:
        facts.append((
            r.t("at once"),
            r.tn("{n} such line, with a fifth of the flow to spare", "{n} such lines, with a fifth of the flow to spare", made.at_once),
        ))  # fmt: skip
    return facts


def _circle(made: Layout, r: Reader) -> str:
    wide = r.quantity(made.wetted_m, "length")
    return (
        r.t("{wide}, as you saw it", wide=wide) if made.wetted_most_m is None else r.t("{wide}, by the soil", wide=wide)
    )


def _part(part: Part, r: Reader) -> tuple[str, str, str]:
    length = "" if part.length_m is None else r.quantity(part.length_m, "length")
    return "" if part.count is None else str(part.count), length, r.tell(part.what)
