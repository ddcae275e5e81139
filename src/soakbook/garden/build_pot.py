"""The shape of a pot from whatever of it was measured."""

from __future__ import annotations

import math
from typing import Any

from soakbook.garden.locate import Path
from soakbook.garden.model import PotShape
from soakbook.garden.problems import Problems
from soakbook.garden.schema import PotTable
from soakbook.said import say

#: Base diameter over top diameter of a round pot when only the top was measured: common practice.
USUAL_BASE = 0.75
_FILLED = PotShape(1.0, 1.0, 1.0).fill_fraction


def build_pot(raw: Any, path: Path, problems: Problems, place: str, assumed: list[str]) -> PotShape | None:
    """The pot, or None with the problems noted.

    Either the top (``diameter`` or ``sides``) with the ``height``, or the ``volume`` of mix it holds with at
    most one of diameter and height: a round pot is then as tall as it is wide unless one of them is given.
    """
    table = problems.table(PotTable, raw, path)
    if table is None:
        return None
    before = problems.any_under(path)
    _check(table, path, problems)
    if before or problems.any_under(path):
        return None
    filled = table.filled if table.filled is not None else _FILLED
    if table.volume is not None:
        top, base, height = _from_volume(table, filled)
        width_cm = 100 * math.sqrt(4 * top / math.pi)
        assumed.append(
            say(
                'The pot of "{place}" is taken as round, {width:.0f} cm wide at the top '
                "and {height:.0f} cm tall, to hold {volume:g} L of mix.",
                place=place,
                width=width_cm,
                height=100 * height,
                volume=table.volume,
            )
        )
    else:
        assert table.height is not None
        height = table.height
        top = _top_area(table)
        if table.base is not None:
            base = math.pi / 4 * table.base[0] ** 2 if len(table.base) == 1 else table.base[0] * table.base[1]
        else:
            base = top if table.sides else top * USUAL_BASE**2
            how = (
                say("as wide as the top")
                if table.sides
                else say("{share:.0f} % as wide as the top", share=100 * USUAL_BASE)
            )
            assumed.append(say('The base of the pot of "{place}" is taken to be {how}.', place=place, how=how))
    return PotShape(height, top, base, filled, table.wall, table.saucer, table.count)


def _top_area(table: PotTable) -> float:
    if table.sides is not None:
        return table.sides[0] * table.sides[1]
    assert table.diameter is not None
    return math.pi / 4 * table.diameter**2


def _check(table: PotTable, path: Path, problems: Problems) -> None:
    if table.volume is not None:
        extra = [k for k in ("sides", "base") if getattr(table, k) is not None]
        if table.diameter is not None and table.height is not None:
            extra.append("height")
        for key in extra:
            problems.add(
                (*path, key),
                say("it does not go with volume, which takes one of diameter and height beside it."),
                code="pot.shape",
            )
        return
    if table.diameter is not None and table.sides is not None:
        problems.add((*path, "sides"), say("a pot has either a diameter or sides."), code="pot.shape")
    if table.diameter is None and table.sides is None:
        hint = say('Write diameter = "30 cm", sides = "60 cm x 20 cm" or volume = "15 L".')
        problems.add(path, say("it does not say how big it is."), code="pot.shape", hint=hint)
    elif table.height is None:
        problems.add((*path, "height"), say('"height" is missing.'), code="key.missing")
    if table.base is not None and (len(table.base) == 2) != (table.sides is not None):
        problems.add(
            (*path, "base"),
            say("the base of a round pot is one length, of a pot with sides two."),
            code="pot.shape",
        )


def _from_volume(table: PotTable, filled: float) -> tuple[float, float, float]:
    """Top area, base area and height of a round pot that holds the volume. [m², m², m]"""
    assert table.volume is not None
    frustum = math.pi / 4 * (1 + USUAL_BASE + USUAL_BASE**2) / 3 * filled
    volume_m3 = table.volume / 1000.0
    if table.height is not None:
        height, diameter = table.height, math.sqrt(volume_m3 / (frustum * table.height))
    elif table.diameter is not None:
        diameter = table.diameter
        height = volume_m3 / (frustum * diameter**2)
    else:
        height = diameter = (volume_m3 / frustum) ** (1 / 3)
    top = math.pi / 4 * diameter**2
    return top, top * USUAL_BASE**2, height
