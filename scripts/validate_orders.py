"""The part of ``docs/validation.md`` on how fast the drip solver's errors fall, and on the cases drawn at random."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from scripts.tables import table
from tests.measured.delivery_orders import CELLS, EVEN, PAGE_CM, SMOOTHS, STANDING, STEPS, TOLERANCES
from tests.measured.orders import SAFETY, Study
from tests.measured.wetting_drawn import Drawn


def orders_section(orders: dict[str, tuple[Study, ...]]) -> str:
    """Tables, and why the order falls short where it does."""
    return f"""### Drip on soil: how fast errors fall

The order p says that an error goes as the p-th power of the size of cells or steps: 1 halves it with the size, 2 quarters it. It comes from three sizes (P. J. Roache, J. Fluids Eng. 116:405-413, 1994; uneven ones as I. B.
Celik and others, J. Fluids Eng. 130:078001, 2008; both from memory), against an exact solution from two. The error is the part of the water given that lies elsewhere, if nothing else is said. Where cells are looked at, steps
are small and the rest of their error is taken out (Richardson, from two tolerances); where steps are looked at, cells stay as they are. *Left* is the error in the finest: found against the exact solution, else Roache's index with
its factor of {SAFETY:g}.

**Smooth: Gardner soil, even flux.** Exact in the solver's own box, so that nothing but its error is left. Cells of 5, 2.5, 1.25 and 0.625 cm. The method has order 2, and shows it, at rest and on the way. Not at the edge of the disc,
where the flux jumps and heads have a corner: 1. Nor for the flow into a disc under water (cells down to 0.3125 cm): at its edge a head that is given meets a surface without flux, the flow there has no bound (as one over the root
of the distance), and that leaves order 1. For this flow the errors are what differs from cells to cells of half the size.

{_table(orders[SMOOTHS])}

**Water that stands and spreads**, as on a page: van Genuchten soil, 2 L/h from an emitter or 6 L/h from a metre of line for 1 h, from a suction of 500 cm. Cells of {CELLS[0]:g} cm, halved down to {CELLS[-1]:g} cm ({CELLS[-2]:g} in the second loam and in moist soil below); errors
are what differs from cells to cells of half the size; *on pages* is in cells of {PAGE_CM:g} cm, at most. The edge of standing water is that of the disc under water above, and moves by whole rings: no more than order 1 can be hoped for. In the loam of the second
table, which draws water sideways so far that the edge counts little, errors of these sizes still fall faster. So the cells of a page put up to {_most(orders[STANDING], "ends"):.0f} % of the water of an hour elsewhere when it ends, {_most(orders[STANDING], "later"):.0f} % half a day later.

{_table(orders[STANDING])}

**Falling evenly** on 16 cm either way, so that no edge of standing water is left, only the front. Theory says 2 where cells resolve it. On dry loam of the first
table the front under the source is narrower than a cell of a page when the water ends: there the order falls short most, and is uneven. Half a day later the front is some cells wide, and order 2 nearer. With 0.75 cm an hour on the same loam at a suction of
100 cm it is wide from the first, and order 2 is there (fronts: `tests/published/test_wetting_orders.py`). So it is at the steep front that order is lost, not in the rings or strips.

{_table(orders[EVEN])}

**Steps.** Backward Euler has order 1. The tolerance is {TOLERANCES[0]:g}, as on pages, and a quarter each time, down to {TOLERANCES[-1]:.1g}; the size is the mean step. Cells of 1.25 cm in the first two rows, {PAGE_CM:g} cm in the others.

{_table(orders[STEPS])}

{_stands([one for some in orders.values() for one in some])}"""


def _most(studies: Sequence[Study], when: str) -> float:
    """Largest error in the cells of a page, at such a time."""
    return max(one.on_pages for one in studies if one.name.endswith(when))


def _table(studies: Sequence[Study]) -> str:
    pages = any(one.at for one in studies)
    head = (
        "",
        "in theory",
        "found, coarse to fine",
        "asked of the finest",
        *(("on pages",) if pages else ()),
        "left",
        "unit",
        "",
    )
    return table(head, [
        (
            one.name, f"{one.theory:g}", ", ".join(f"{p:.2f}" for p in one.orders), f"{one.asked:g}", *((f"{one.on_pages:.2g}",) if pages else ()),
            f"{one.left:.2g}", one.unit, "met" if one.is_met else "**not met**",
        )
        for one in studies
    ])  # fmt: skip


def _stands(studies: Sequence[Study]) -> str:
    missed = [one.name for one in studies if not one.is_met]
    short = [one.name for one in studies if one.orders[-1] < one.theory - 0.2]
    said = f"{len(studies) - len(missed)} of {len(studies)} are met."
    if missed:
        said += f" **Not met**: {'; '.join(missed)}."
    return said + (f" More than 0.2 short of theory: {'; '.join(short)}." if short else "")


def drawn_section(drawn: Sequence[Drawn]) -> str:
    """What was drawn, and how it went."""
    solved = [one for one in drawn if one.is_solved]
    failed = [f"{one.case} ({one.texture}, {one.shape})" for one in drawn if not one.is_solved]
    counts = table(("of them", "cases"), [
        (name, str(sum(bool(of(one)) for one in drawn)))
        for name, of in (
            ("emitters in rings", lambda one: one.shape == "emitter"), ("lines in strips", lambda one: one.shape == "line"), ("two or three layers", lambda one: one.layers > 1),
            ("buried 5 to 40 cm", lambda one: one.depth_cm > 0.0), ("two to four goes with pauses", lambda one: one.goes > 1), ("the same again next day", lambda one: one.days > 1),
            ("roots that draw 0.2 to 6 L a day", lambda one: one.has_roots), ("beds with an edge that hold 5 mm", lambda one: one.has_edge),
            ("neighbours 20 to 80 cm away", lambda one: one.has_neighbours),
        )
    ])  # fmt: skip
    iterations = [one.iterations for one in solved]
    said = f" **Not solved**: {'; '.join(failed)}." if failed else ""
    return f"""### Drip on soil: {len(drawn)} cases drawn at random

Harder than the 360 of `tests/benchmarks/bench_wetting.py` (one soil, one go on the surface): {len({one.texture for one in drawn})} textures of either table, spread as soils of a class differ, in the cells of a page, and 24 h on after the last go.

{counts}

{len(solved)} of {len(drawn)} are solved.{said} Water adds up to {max(one.off for one in solved):.1g} of what was given at worst (allowed: 0.000001). Newton iterations: {median(iterations):.0f} in the middle case, {max(iterations)} at most.
How long that takes is told by the benches ([drip](drip.md))."""
