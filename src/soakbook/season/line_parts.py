"""The lines of a garden that several places share, looked at over the weeks ahead."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from soakbook.errors import InputError
from soakbook.garden.log import line_of
from soakbook.garden.words import nearest
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.delivery.line_fix import Shared
    from soakbook.garden.model import Garden, LogEntry

#: Hours in which a line may run: early, as the round has it. [minutes of the day]
EARLY = (4 * 60, 16 * 60)


def shared_lines(
    garden: Garden, log: list[LogEntry], folder: Path, on: date, days: int, name: str | None = None
) -> tuple[tuple[Shared, ...], str]:
    """Every line with two places or more in which something grows, or the one of that name; and where the weather is from.

    Raises
    ------
    InputError
        No such line, or none that is shared.
    """
    from soakbook.balance.crops import NONE
    from soakbook.delivery.line_fix import shared_line
    from soakbook.delivery.timer_need import Span
    from soakbook.season.timer_parts import places_ahead

    names = [line.name for line in garden.lines]
    asked = next((one for one in names if name and one.casefold() == name.strip().casefold()), None)
    if name and asked is None:
        raise InputError(
            say('there is no line "{name}"; there are: {names}.', name=name[:40], names=", ".join(names) or say("none")),
            code="line.unknown", field="line", hint=nearest(name, names),
        )  # fmt: skip
    places, source = places_ahead(garden, log, folder, on, days)
    growing = [p for p in places if (p.days.crops.phase[:days] != NONE).any() and asked in (None, p.line)]
    by_line = {line: [p for p in growing if p.line == line] for line in names}
    by_line = {line: mine for line, mine in by_line.items() if len(mine) > 1}
    if not by_line:
        raise InputError(
            say("no line waters two places or more in which something grows, with a flow that is known."), code="line.shared", field="line",
            hint=say("Name the line of each place in the garden file, and its flow: catch it in a bucket and time it."),
        )  # fmt: skip
    span = Span(on, days, (EARLY,))
    each = {p.name: p.emitter_flow_lph or getattr(line_of(p, garden), "emitter_flow_lph", None) for p in garden.places}
    return tuple(shared_line(mine, span, each) for mine in by_line.values()), source
