"""An app with the demo garden and a small one of odd corners, for the tests of pages."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo, bring_garden
from soakbook.app.build import build_app
from soakbook.app.desk import Desk
from soakbook.app.settings import Settings
from soakbook.demo import DAY
from soakbook.store import Store

#: Nothing in it needs water on the demo's day: an empty bed, one that is cleared, one not yet sown, and an empty pot.
ODD = """
[garden]
name = "Odd corners"
latitude = 39.1
longitude = -96.61
time_zone = "America/Chicago"
units = "US"
[supply]
source = "mains"
can = "2 gal"
price = "6.10 USD per 1000 gal"
[[places]]
name = "empty bed"
kind = "bed"
soil = "loam"
size = "4 ft x 8 ft"
[[places]]
name = "cleared bed"
kind = "bed"
soil = "loam"
size = "4 ft x 8 ft"
[[places.plantings]]
plant = "lettuce_leaf"
sown = 2017-03-01
cleared = 2017-05-20
[[places]]
name = "late beans"
kind = "bed"
soil = "clay loam"
size = "4 ft x 8 ft"
[[places.plantings]]
plant = "bean_bush"
sown = 2017-07-20
[[places]]
name = "empty pot"
kind = "pot"
soil = "multipurpose"
pot = { diameter = "12 in", height = "11 in" }
"""
ODD_LOG = "id,at,kind,place,amount,text\no1,2017-03-05T08:00,water,cleared bed,500 gal,\no2,2016-05-01T08:00,water,empty bed,5 gal,\n"


@dataclass(frozen=True)
class Kept:
    """The app, asked as the machine's own user does."""

    client: TestClient
    store: Store
    desk: Desk
    demo: str
    odd: str

    def path(self, name: str) -> str:
        """Address of the place of that name, in whichever garden it is."""
        for key in (self.demo, self.odd):
            for place in self.store.document(key)["places"]:
                if place["name"] == name:
                    return f"/g/{key}/place/{place['id']}"
        raise KeyError(name)

    def seconds(self, path: str) -> float:
        """How long a page takes once it was made: the best of five, for others use the machine too."""
        took = []
        for _ in range(6):
            start = time.perf_counter()
            assert self.client.get(path).status_code == 200
            took.append(time.perf_counter() - start)
        return min(took[1:])

    def places(self) -> list[str]:
        """Addresses of all places."""
        return [
            f"/g/{key}/place/{p['id']}" for key in (self.demo, self.odd) for p in self.store.document(key)["places"]
        ]


@contextmanager
def kept_gardens(folder: Path) -> Iterator[Kept]:
    """Both gardens in a fresh folder."""
    built = build_app(Settings(folder, today=DAY, demo=True))
    house = built.state.house
    demo, odd = bring_demo(house.desk).key, bring_garden(house.desk, ODD, ODD_LOG).key
    client = TestClient(built, base_url="http://127.0.0.1", client=("127.0.0.1", 50000), follow_redirects=False)
    yield Kept(client, house.store, house.desk, demo, odd)
    house.store.close()
