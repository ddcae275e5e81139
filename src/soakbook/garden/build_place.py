"""One place of a garden file: its soil, shape, sky, water and plantings put together."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from soakbook.errors import InputError
from soakbook.garden.build_pot import build_pot
from soakbook.garden.build_soil import build_soil
from soakbook.garden.locate import Path
from soakbook.garden.model import Exposure, Line, Mulch, Place, Planting, PotShape, SoilLayer, Wetted
from soakbook.garden.problems import Problems
from soakbook.garden.schema import MulchTable, PlaceTable, PlantingTable, WettedTable
from soakbook.garden.words import nearest, plain, some
from soakbook.said import say
from soakbook.units import parse_quantity

_INSIDE = ("soil", "pot", "mulch", "sun", "wetted", "plantings")
COMPASS = {
    "north": 0.0,
    "northeast": 45.0,
    "east": 90.0,
    "southeast": 135.0,
    "south": 180.0,
    "southwest": 225.0,
    "west": 270.0,
    "northwest": 315.0,
}

_KINDS = {"bed": say("bed"), "pot": say("pot"), "tray": say("tray")}


@dataclass
class PlaceBuilder:
    """Builds places against the lines and soils of the file; None there marks one with errors."""

    problems: Problems
    lines: dict[str, Line | None]
    soils: dict[str, tuple[SoilLayer, ...] | None]
    assumed: list[str]
    shares: dict[str, float] = field(default_factory=dict)

    def build(self, raw: Any, path: Path) -> Place | None:
        """The place, or None with the problems noted. Shares of a line are set later."""
        problems = self.problems
        inside = raw if isinstance(raw, dict) else {}
        table = problems.table(PlaceTable, raw, path)
        soil = self._soil(inside["soil"], (*path, "soil")) if "soil" in inside else None
        mulch = self._mulch(inside["mulch"], (*path, "mulch")) if "mulch" in inside else None
        horizon = self._sun(inside["sun"], (*path, "sun")) if "sun" in inside else ()
        wetted = self._wetted(inside["wetted"], (*path, "wetted")) if "wetted" in inside else None
        name = table.name if table else say("this place")
        pot = build_pot(inside["pot"], (*path, "pot"), problems, name, self.assumed) if "pot" in inside else None
        plantings = self._plantings(inside.get("plantings", []), (*path, "plantings"))
        if table is None:
            return None
        area = self._area(table, pot, path)
        means = self._means(table, path)
        self._check_depths(table, soil, pot, path)
        if table.lets_through is not None and table.cover == "none":
            problems.add((*path, "lets_through"), say("it needs a cover to be said of."), code="place.lets_through")
        if table.wetted is not None and table.kind != "bed":
            problems.add(
                (*path, "wetted"), say("only the open ground of a bed shows a wet circle, not a {kind}.", kind=_KINDS[table.kind]), code="place.wetted"
            )  # fmt: skip
        if problems.any_under(path) or soil is None or area is None:
            return None
        if table.line_share is not None:
            self.shares[table.name] = table.line_share
        return Place(
            name=table.name,
            kind=table.kind,
            soil=soil,
            area_m2=area,
            length_m=table.size[0] if table.size else None,
            width_m=table.size[1] if table.size else None,
            pot=pot,
            root_barrier_m=table.barrier,
            mulch=mulch,
            exposure=Exposure(
                horizon=horizon,
                shelter=table.shelter,
                cover=table.cover,
                cover_transmittance=table.lets_through,
                surroundings=table.surroundings,
                rain_fraction=table.rain,
            ),
            means=means,
            line=self._line_name(table.line),
            emitters=table.emitters,
            emitter_flow_lph=table.each,
            wetted_fraction=table.wets,
            plantings=plantings,
            followed=table.followed,
            note=table.note,
            wetted=wetted,
        )

    def _soil(self, raw: Any, path: Path) -> tuple[SoilLayer, ...] | None:
        """A soil of the file by name, a texture or mix by its word, or a table written in place."""
        if not isinstance(raw, str):
            return build_soil(raw, path, self.problems)
        for name, layers in self.soils.items():
            if plain(name) == plain(raw):
                return layers
        known = self.problems.known
        for kind, key in (("textures", "texture"), ("mixes", "mix")):
            if plain(raw) in {plain(word) for word in getattr(known, kind)}:
                return build_soil({key: raw}, path, self.problems)
        words = [*self.soils, *known.textures, *known.mixes]
        self.problems.add(
            path,
            say('"{raw}" is neither a soil of this file nor a texture nor a mix.', raw=raw[:80]),
            code="soil.unknown",
            hint=nearest(raw, words) or say("Soils of this file: {soils}.", soils=some(self.soils) or say("none")),
        )
        return None

    def _mulch(self, raw: Any, path: Path) -> Mulch | None:
        as_table = {"kind": raw} if isinstance(raw, str) else raw
        table = self.problems.table(MulchTable, as_table, path)
        return Mulch(table.kind, table.cover) if table else None

    def _wetted(self, raw: Any, path: Path) -> Wetted | None:
        table = self.problems.table(WettedTable, raw, path)
        return Wetted(table.flow, table.run, table.circle, table.dug, table.line, table.seen) if table else None

    def _sun(self, raw: Any, path: Path) -> tuple[tuple[float, float], ...]:
        """What stands in the sun's way, as (azimuth, elevation) pairs in degrees, by azimuth."""
        pairs: dict[float, float] = {}
        for at, azimuth_raw, elevation_raw in self._directions(raw, path):
            try:
                azimuth = parse_quantity(azimuth_raw, "angle")
                elevation = parse_quantity(elevation_raw, "angle")
            except InputError as error:
                self.problems.relay(at, error)
                continue
            if not 0 <= azimuth < 360 or not 0 <= elevation <= 90:
                message = say(
                    "direction {azimuth:g}° must be 0 to 359 from north, height {elevation:g}° 0 to 90.",
                    azimuth=azimuth,
                    elevation=elevation,
                )
                self.problems.add(at, message, code="sun.range")
            elif azimuth in pairs:
                self.problems.add(
                    at, say("the direction {azimuth:g}° is there twice.", azimuth=azimuth), code="sun.twice"
                )
            pairs[azimuth] = elevation
        if isinstance(raw, dict) and pairs:  # a side that is not named is open
            pairs = dict.fromkeys(range(0, 360, 45), 0.0) | pairs
        return tuple(sorted((float(azimuth), elevation) for azimuth, elevation in pairs.items()))

    def _directions(self, raw: Any, path: Path) -> list[tuple[Path, Any, Any]]:
        if isinstance(raw, dict):
            found: list[tuple[Path, Any, Any]] = []
            for word, height in raw.items():
                if (azimuth := COMPASS.get(plain(word).replace(" ", ""))) is None:
                    hint = nearest(word, COMPASS) or say("Known here: {words}.", words=some(COMPASS))
                    self.problems.add((*path, word), say("it is no direction."), code="key.unknown", hint=hint)
                else:
                    found.append(((*path, word), azimuth, height))
            return found
        if isinstance(raw, list) and all(isinstance(pair, list) and len(pair) == 2 for pair in raw):
            return [((*path, i), pair[0], pair[1]) for i, pair in enumerate(raw)]
        self.problems.add(
            path,
            say("it must be directions with the height of what stands there."),
            code="sun",
            hint=say('Write sun = {{ south = "30 deg" }} or sun = [[180, 30]].'),
        )
        return []

    def _area(self, table: PlaceTable, pot: PotShape | None, path: Path) -> float | None:
        """Area of the whole place. For pots the tops of all of them. [m²]"""
        add = self.problems.add
        if table.kind == "bed":
            if table.pot is not None:
                add((*path, "pot"), say("a bed has no pot."), code="place.pot", hint=say('Write kind = "pot".'))
            if table.size is not None and table.area is not None:
                add((*path, "area"), say("give either size or area, not both."), code="place.size")
            if table.size is None and table.area is None:
                hint = say('Write size = "3 m x 1.2 m" or area = "3.6 m2".')
                add((*path, "size"), say('"size" or "area" is missing.'), code="key.missing", hint=hint)
            return table.size[0] * table.size[1] if table.size else table.area
        for key in ("size", "area"):
            if getattr(table, key) is not None:
                add(
                    (*path, key),
                    say("a {kind} takes its size from its pot entry.", kind=_KINDS[table.kind]),
                    code="place.size",
                )
        if table.pot is None:
            hint = say('Write pot = {{ diameter = "30 cm", height = "28 cm" }} or pot = {{ volume = "15 L" }}.')
            add((*path, "pot"), say('"pot" is missing.'), code="key.missing", hint=hint)
        return pot.top_area_m2 * pot.count if pot else None

    def _line_name(self, given: str | None) -> str | None:
        return next((n for n in self.lines if given is not None and plain(n) == plain(given)), None)

    def _means(self, table: PlaceTable, path: Path) -> str:
        add = self.problems.add
        for key in ("line_share",):
            if getattr(table, key) is not None and table.line is None:
                add((*path, key), say("it needs the line it is a share of."), code="place.line")
        if table.line is None:
            return table.watered or "can"
        name = self._line_name(table.line)
        if name is None:
            hint = nearest(table.line, self.lines) or say(
                "Lines of this file: {lines}.", lines=some(self.lines) or say("none")
            )
            add((*path, "line"), say('there is no line "{line}".', line=table.line), code="line.unknown", hint=hint)
            return "can"
        line = self.lines[name]
        if line is not None and table.watered not in (None, line.means):
            add(
                (*path, "watered"),
                say(
                    '"{watered}" does not match line "{name}", which is "{means}".',
                    watered=table.watered,
                    name=name,
                    means=line.means,
                ),
                code="place.watered",
                hint=say("Leave watered out: the line says it."),
            )
        return line.means if line else "can"

    def _check_depths(
        self, table: PlaceTable, soil: tuple[SoilLayer, ...] | None, pot: PotShape | None, path: Path
    ) -> None:
        depth = sum(layer.thickness_m or 0.0 for layer in soil or ())
        if pot and depth > pot.height_m + 1e-9:
            self.problems.add(
                (*path, "soil"),
                say(
                    "the soil is {depth:g} m thick, more than the pot's height of {height_m:g} m.",
                    depth=depth,
                    height_m=pot.height_m,
                ),
                code="place.depth",
            )
        if pot and table.barrier is not None:
            self.problems.add(
                (*path, "barrier"),
                say("a {kind} ends at its bottom anyway.", kind=_KINDS[table.kind]),
                code="place.barrier",
            )

    def _plantings(self, raw: Any, path: Path) -> tuple[Planting, ...]:
        found: list[tuple[Path, Planting]] = []
        for at, item in self.problems.tables(raw, path, "[[places.plantings]]"):
            table = self.problems.table(PlantingTable, item, at)
            if table is not None:
                self._check_planting(table, at)
                found.append((at, _planting(table)))
        self._check_shares(found)
        return tuple(planting for _, planting in found)

    def _check_planting(self, table: PlantingTable, at: Path) -> None:
        add = self.problems.add
        first, planted = table.sown or table.planted, table.planted
        if first is None and not table.established:
            hint = say("Give sown, planted, or established = true for what stood there before.")
            add(at, say("it does not say since when it grows."), code="planting.start", hint=hint)
        if table.sown and planted and planted < table.sown:
            add(
                (*at, "planted"),
                say("{planted} is before it was sown on {sown}.", planted=planted, sown=table.sown),
                code="planting.order",
            )
        start = planted or table.sown
        if table.cleared and start and table.cleared <= start:
            add(
                (*at, "cleared"),
                say("{cleared} must be after {start}.", cleared=table.cleared, start=start),
                code="planting.order",
            )
        sized = table.width is not None or table.height is not None
        if sized and table.measured is None:
            hint = say('Say when it was that size, such as measured = 2026-06-14. The usual distance is "spacing".')
            add(
                (*at, "measured"),
                say('"measured" is missing beside width or height.'),
                code="key.missing",
                hint=hint,
            )
        if table.measured and not sized:
            add((*at, "measured"), say("it needs the width or height that was measured."), code="planting.measured")
        if table.measured and first and table.measured < first:
            add(
                (*at, "measured"),
                say("{measured} is before {first}.", measured=table.measured, first=first),
                code="planting.order",
            )

    def _check_shares(self, found: list[tuple[Path, Planting]]) -> None:
        """At no time may the plantings of a place take more than all of it."""
        spans = [(at, p, p.planted_out or p.sown or date.min, p.cleared or date.max) for at, p in found]
        for at, _, begin, _ in spans:
            together = [p for _, p, first, last in spans if first <= begin < last]
            total = sum(p.share for p in together)
            if total > 1.0 + 1e-9:
                self.problems.add(
                    (*at, "share"),
                    say(
                        "{plants} grow here at once and take {total:.0f} % of the place.",
                        plants=some(p.plant for p in together),
                        total=100 * total,
                    ),
                    code="planting.share",
                    hint=say('Give each its share, such as share = "50 %", or the day one was cleared.'),
                )
                return


def _planting(table: PlantingTable) -> Planting:
    return Planting(
        plant=table.plant,
        sown=table.sown,
        planted_out=table.planted,
        established=table.established,
        cleared=table.cleared,
        count=table.count,
        in_row_m=table.spacing,
        row_m=table.rows,
        width_m=table.width,
        height_m=table.height,
        measured_on=table.measured,
        share=table.share,
    )
