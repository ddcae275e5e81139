"""The water that soils of the catalogue hold: texture classes as they drain in the ground, mixes in a pot or a bed."""

from __future__ import annotations

from dataclasses import dataclass

from soakbook.catalog.model import Mix, TextureClass
from soakbook.physics.potting import container_capacity, theta_van_genuchten
from soakbook.physics.soil import soil_from_texture

#: Height of the pot whose water is shown, and the suction a bed mix is taken to drain to. [m], [cm]
POT_M, BED_SUCTION_CM = 0.20, 60.0


@dataclass(frozen=True)
class Held:
    """Water by volume after draining and at wilting, and what lies between them by depth. [m³/m³], [mm/m]"""

    drained: float
    wilting: float

    @property
    def available_mm_per_m(self) -> float:
        """What plants can take."""
        return 1000.0 * (self.drained - self.wilting)


def texture_holds(row: TextureClass) -> Held:
    """A typical soil of the class."""
    water = soil_from_texture(row.id)
    return Held(float(water.theta_fc), float(water.theta_wp))


def mix_holds(row: Mix) -> Held:
    """A potting mix in a pot :data:`POT_M` tall, a bed mix at :data:`BED_SUCTION_CM`."""
    curve = (row.theta_r.value, row.theta_s.value, row.alpha_per_cm.value, row.n.value)
    drained = container_capacity(POT_M, *curve) if row.use == "pot" else theta_van_genuchten(BED_SUCTION_CM, *curve)
    return Held(float(drained), row.wilting.value)
