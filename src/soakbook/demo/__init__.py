"""The demo: an invented garden under real weather.

``garden.toml`` and ``garden.log.csv`` are invented. ``weather.csv.gz`` holds daily records of the U.S. Climate Reference
Network station 53974, Manhattan 6 SSW, Kansas, 2010-01-01 to 2017-08-31 (NOAA, product daily01, public domain; H. J.
Diamond et al., Bull. Amer. Meteor. Soc. 94:489-498, 2013), trimmed to seven columns; missing values are empty.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soakbook.garden.model import Garden, LogEntry

#: The demo's today. Nothing the station recorded on or after it is used.
DAY = date(2017, 7, 8)
FOLDER = Path(__file__).parent


def demo_garden() -> tuple[Garden, list[LogEntry], Path]:
    """The garden, its log and the folder its weather lies in."""
    from soakbook.advice.open import open_garden
    from soakbook.garden.log import read_log

    garden = open_garden(FOLDER / "garden.toml")
    return garden, read_log(FOLDER / "garden.log.csv", garden), FOLDER
