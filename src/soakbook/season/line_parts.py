"""The lines of a garden that several places share, looked at over the weeks ahead."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from soakbook.errors import InputError
from soakbook.garden.log import line_of
from soakbook.garden.words import nearest
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.delivery.line_fix import Shared
    from soakbook.delivery.timer_place import TimerPlace
    from soakbook.garden.model import Garden

#: Hours in which a line may run: early, as the round has it. [minutes of the day]
EARLY = (4 * 60, 16 * 60)


def line_named(garden: Garden, name: str) -> str:
    """The line of a name, upper and lower case alike; InputError with the nearest when there is none."""
    names = [line.name for line in garden.lines]
    asked = next((one for one in names if one.casefold() == name.strip().casefold()), None)
    if asked is None:
        raise InputError(
            say('there is no line "{name}"; there are: {names}.', name=name[:40], names=", ".join(names) or say("none")),
            code="line.unknown", field="line", hint=nearest(name, names),
        )  # fmt: skip
    return asked


def shared_lines(
    garden: Garden, places: Sequence[TimerPlace], on: date, days: int, name: str | None = None
) -> tuple[Shared, ...]:
    """Every line with two places or more in which something grows, or the one of that name.

    Parameters
    ----------
    garden
        The garden.
    places
        Its places on lines, laid out over the days (:func:`soakbook.season.timer_parts.places_ahead`).
    on, days
        The first day, and how many.
    name
        A line of the garden.
    """
    from soakbook.delivery.line_fed import fed_of
    from soakbook.delivery.line_fix import shared_line
    from soakbook.delivery.timer_need import Span

    growing = [p for p in places if p.grows[:days].any() and name in (None, p.line)]
    by_line = {line.name: [p for p in growing if p.line == line.name] for line in garden.lines}
    each = {p.name: p.emitter_flow_lph or getattr(line_of(p, garden), "emitter_flow_lph", None) for p in garden.places}
    span = Span(on, min([days, *(len(p.days.days) for p in growing)]), (EARLY,))
    return tuple(shared_line(mine, span, each, fed_of(garden, one)) for one, mine in by_line.items() if len(mine) > 1)


def none_shared() -> InputError:
    """What to say where no line is shared."""
    return InputError(
        say("no line waters two places or more in which something grows, with a flow that is known."), code="line.shared", field="line",
        hint=say("Name the line of each place in the garden file, and its flow: catch it in a bucket and time it."),
    )  # fmt: skip
