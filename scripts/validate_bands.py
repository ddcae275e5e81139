"""The part of ``docs/validation.md`` on bands: how often the truth lay in them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scripts.tables import table
from tests.measured.bands import LEADS, Seen

#: What the share of truths within is to lie between. [%]
LEAST, MOST = 75.0, 85.0
_FULL = ("two days' drainage", "100 cm", "200 cm", "33 kPa")
_TRUTHS = {"ours": "the balance itself, drawn from its spread", "hidden": "hidden garden (Richards)"}


def section(found: Sequence[Seen]) -> str:
    """Coverage and width by truth, kind of place, readings and days ahead."""
    keys = list(dict.fromkeys((s.truth, s.kind, s.after) for s in found))
    rows = [
        (
            _TRUTHS[truth],
            kind,
            after,
            str(len(mine) // len(LEADS)),
            *(_cell([s for s in mine if s.lead == lead]) for lead in LEADS),
        )
        for truth, kind, after in keys
        if (mine := [s for s in found if (s.truth, s.kind, s.after) == (truth, kind, after)])
    ]
    grounds = sorted({s.ground for s in found if s.truth == "hidden"})
    by_ground = [_ground_row(ground, [s for s in found if s.ground == ground]) for ground in grounds]
    beds = [s for s in found if s.truth == "hidden" and s.kind == "bed"]
    by_full = [
        (after, *(_held_by(k, [s for s in beds if s.after == after]) for k in range(len(_FULL))))
        for after in dict.fromkeys(s.after for s in beds)
    ]
    hidden = {(s.kind, s.after): None for s in found if s.truth == "hidden"}
    sides = [_side_row(*key, [s for s in found if (s.truth, s.kind, s.after) == ("hidden", *key)]) for key in hidden]
    return f"""
## Do the bands hold?

80 % bands of the fraction of the roots' reach that is used, against truths that are known: on the morning the band is made (0) and so many
days ahead. Each cell: how many in a hundred truths lay within, and in brackets the mean width of the band. 75 to 85 is what is
aimed at. The days ahead bring the weather that came, so the bands are of what is not known of the place.

{table(("truth", "place", "readings", "bands", *(f"{lead} d" for lead in LEADS)), rows)}

*The balance itself*: parameters from their spread, days and weeks on which demand is off, readings with the errors that
the observation models have. It shows that the arithmetic is right. *Hidden garden*: soils, roots, evaporation and probe of its own, in eight
climates and ten combinations of soil, crop and means of watering, no faults; not our model in anything but the weather. What it has used is
counted by its own soil: between what two days of drainage leave and 1,500 kPa. The sizes of what the balance may be wrong by were
judged on gardens drawn alike from other seeds: the makers of these gardens and of the bands knew of each other's, these draws were
looked at with two sets of sizes, between which draws of other seeds chose.

Hidden gardens by soil, all days ahead together:

{table(("soil", "no readings", "with the dial weekly", "with both weekly"), by_ground)}

By which side the truth leaves, in a hundred, all days ahead together:

{table(("place", "readings", "wetter than the band", "drier"), sides)}

What "used" means of a soil that is not ours is a choice. The lowest and the highest share of the days ahead in hidden beds, when full is
taken as what is left after two days of drainage (as above), or as what is held at a suction:

{table(("readings", *_FULL), by_full)}

{_failing(found)} Beds after readings leave rather by the dry side: dial and hand are at 12 cm, and in those gardens the roots' reach
below is drier than that, while in the balance it is about as dry as the spot. A first choice of sizes was found 3 to 10 too narrow there on 48 beds of
other seeds; what the balance is taken to be wrong by at a spot was raised for that (for some days by 0.30 of what a soil holds where it was 0.20;
in pots demand by 21 % where it was 18), and the draws shown here were made after. By suctions at which laboratories take field capacity
the truth counts as wetter, and the bands hold it a good deal less often than by two days of drainage. **Where they are too wide**: pots.
Of the balance's own many begin at 0 (a pot that is full), which leaves only one side to miss by, and what lies within 0.005 of an edge counts as inside. The
bands of one place hang together, three mornings of each: figures of the hidden places are good to about 5.
"""


def _failing(found: Sequence[Seen]) -> str:
    """Cells of hidden gardens in which less than was aimed at, or more, lay within."""
    cells: dict[tuple[str, str, int], list[bool]] = {}
    for s in found:
        if s.truth == "hidden":
            cells.setdefault((s.kind, s.after, s.lead), []).append(s.inside)
    off = [
        f"{kind}, {after}, {lead} d ({100.0 * np.mean(some):.0f})"
        for (kind, after, lead), some in cells.items()
        if not LEAST <= 100.0 * np.mean(some) <= MOST
    ]
    return f"**Hidden gardens outside 75 to 85**: {'; '.join(off) or 'none'}."


def _cell(some: Sequence[Seen]) -> str:
    return f"{100.0 * np.mean([s.inside for s in some]):.0f} ({np.mean([s.high - s.low for s in some]):.2f})"


def _ground_row(ground: str, some: Sequence[Seen]) -> tuple[str, ...]:
    order = ([s for s in some if s.after == "none"], [s for s in some if s.after == "dial, weekly"])
    both = [s for s in some if " and " in s.after]
    return (ground, *(_cell(mine) for mine in (*order, both)))


def _side_row(kind: str, after: str, some: Sequence[Seen]) -> tuple[str, ...]:
    wetter, drier = (np.mean([not s.inside and (s.was < s.low) == is_wet for s in some]) for is_wet in (True, False))
    return kind, after, f"{100.0 * wetter:.0f}", f"{100.0 * drier:.0f}"


def _held_by(k: int, some: Sequence[Seen]) -> str:
    """Lowest and highest share by days ahead, when full is taken by one of the definitions."""
    shares = [100.0 * np.mean([(s.inside, *s.inside_else)[k] for s in some if s.lead == lead]) for lead in LEADS]
    return f"{min(shares):.0f} to {max(shares):.0f}"
