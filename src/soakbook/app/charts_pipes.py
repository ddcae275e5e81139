"""Charts of lines: what each emitter gives, and the pressure, along the best and the worst of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from soakbook.app.chart_parts import Block, Chart, Reader, axis_between, key, mark, point

if TYPE_CHECKING:
    from soakbook.delivery.line import Outlet

#: Lines that are drawn, each with a dash of its own; and how many places are read aloud.
_LOOKS = ("held", "soaked", "ahead")
_MOST_POINTS = 60
#: Words over the most and under the least keep this far from the sides, and those under it below the line, as parts of width and height. Judged.
_SIDE, _UNDER = 0.16, 0.16


def shown_lines(outlets: Sequence[Outlet], least: Outlet, most: Outlet) -> tuple[int, ...]:
    """The numbers of the lines that are drawn: all up to three, else the first and those that give least and most."""
    lines = sorted({o.line for o in outlets})
    return tuple(lines) if len(lines) <= len(_LOOKS) else tuple(sorted({1, least.line, most.line}))


def flow_along(
    outlets: Sequence[Outlet], least: Outlet, most: Outlet, tenth: float, per_m: float | None, reader: Reader
) -> Chart:
    """What each emitter gives. ``tenth`` is the flow a tenth below the most; ``per_m`` makes pieces of hose into metres: flows are then by the metre. [L/h]"""

    def flow(o: Outlet) -> float:
        return o.flow_lph * (per_m or 1.0)

    def said(o: Outlet) -> str:
        return reader.quantity(flow(o), "flow", 2)

    title = reader.t("What each metre of hose gives") if per_m else reader.t("What each emitter gives")
    return _along(
        "flow", title, outlets, flow, "flow", said, (least, most), reader,
        (tenth * (per_m or 1.0), reader.t("a tenth below the most")),
    )  # fmt: skip


def pressure_along(outlets: Sequence[Outlet], least: Outlet, most: Outlet, reader: Reader) -> Chart:
    """The pressure at each emitter."""
    from soakbook.physics.pipes import KPA_PER_M

    def kpa(o: Outlet) -> float:
        return max(o.head_m, 0.0) * KPA_PER_M  # where no water stands in the pipe nothing is sucked in

    low = max(kpa(most), 1.0) < 20.0
    return _along(
        "pressure", reader.t("Pressure along the lines"), outlets, kpa, "pressure",
        lambda o: reader.quantity(kpa(o), "pressure", 1 if low or reader.scale("pressure")[0] < 1.0 else 0), (least, most), reader, None,
    )  # fmt: skip


def _along(
    name: str, title: str, outlets: Sequence[Outlet], value: Callable[[Outlet], float], kind: str, said: Callable[[Outlet], str],
    ends: tuple[Outlet, Outlet], reader: Reader, level: tuple[float, str] | None,
) -> Chart:  # fmt: skip
    least, most = ends
    drawn = shown_lines(outlets, least, most)
    own = {n: [o for o in outlets if o.line == n] for n in drawn}
    end_m = max(o.at_m for o in outlets)
    x, y = _axes([value(o) for line in own.values() for o in line], end_m, level, kind, reader)
    marks = [mark("line", look, [[o.at_m, value(o)] for o in own[n]]) for n, look in zip(drawn, _LOOKS, strict=False)]
    words = [("line", look, reader.t("line {n}", n=n)) for n, look in zip(drawn, _LOOKS, strict=False)]
    if level is not None:
        marks.append(mark("line", "limit", [[x["from"], level[0]], [x["to"], level[0]]]))
        words.append(("line", "limit", level[1]))
    if value(most) > value(least):
        marks += [
            part
            for o, lower, text in (
                (most, 0.0, reader.t("most: {amount}", amount=said(most))),
                (least, _lower(value(least), y), reader.t("least: {amount}", amount=said(least))),
            )
            for part in (
                mark("dot", "reading", [[o.at_m, value(o)]]), mark("text", "amount", [[_inside(o.at_m, end_m), value(o) - lower, text]]),
            )
        ]  # fmt: skip
    says = reader.t(
        "Least {least} on line {n} at {place}, most {most} on line {m}.", least=said(least), n=least.line, place=reader.quantity(least.at_m, "length"),
        most=said(most), m=most.line,
    )  # fmt: skip
    if y["from"] > 0.0:
        says += " " + reader.t("The scale does not begin at 0.")
    return Chart(
        name=f"pipes-{name}", title=title, says=says,
        block={
            "height": 220, "along": "x", "x": x, "y": y, "marks": marks, "points": _points(own, end_m, said, reader), "key": key(*words),
            "help": reader.t("Touch the picture or use the arrow keys to read it along the line."),
        },
        head=(reader.t("line and place"), title),
        rows=tuple(
            (reader.t("line {n}, {place}", n=n, place=reader.quantity(o.at_m, "length")), said(o)) for n in drawn for o in _some(own[n])
        ),
    )  # fmt: skip


def _axes(
    values: Sequence[float], end_m: float, level: tuple[float, str] | None, kind: str, reader: Reader
) -> tuple[Block, Block]:
    low, high = min([*values, *([level[0]] if level else [])]), max(values)
    room = max(0.25 * (high - low), 0.01 * high)
    x = axis_between(0.0, end_m, "distance", reader)
    return {**x, "to": 1.05 * end_m}, axis_between(max(0.0, low - room), high + room, kind, reader, 3)


def _lower(value: float, y: Block) -> float:
    """How far under a point its words stand; above it where there is no room."""
    under: float = _UNDER * (y["to"] - y["from"])
    return under if value - under > y["from"] else -0.3 * under


def _inside(at_m: float, end_m: float) -> float:
    return min(max(at_m, _SIDE * end_m), (1.0 - _SIDE) * end_m)


def _some(line: Sequence[Outlet]) -> list[Outlet]:
    """Places along a line to read, its ends among them."""
    if len(line) <= _MOST_POINTS:
        return list(line)
    return [line[round(k * (len(line) - 1) / (_MOST_POINTS - 1))] for k in range(_MOST_POINTS)]


def _points(own: dict[int, list[Outlet]], end_m: float, said: Callable[[Outlet], str], reader: Reader) -> list[Block]:
    lines = [_some(line) for line in own.values()]
    at = [o.at_m for o in lines[0]]
    edges = [0.0, *(0.5 * (a + b) for a, b in pairwise(at)), 1.001 * end_m]
    return [
        point(
            edges[k], edges[k + 1],
            reader.t("At {place}: {amounts}", place=reader.quantity(at[k], "length"), amounts=", ".join(
                reader.t("line {n} {amount}", n=line[k].line, amount=said(line[k])) for line in lines
            )),
        )
        for k in range(len(at))
    ]  # fmt: skip
