"""What the spots say about the field: plants and shoots, each with its interval.

One value per spot and the same weight for each; `tillercount.field.density` has the interval. In a
field where enough spots have a photo and a hand count the two are put together by
`tillercount.field.double`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.field.density import ASSUMED_CV, DensityEstimate, mean_of_spots
from tillercount.field.dispersion import Dispersion, dispersion_of
from tillercount.field.double import DoubleSample, double_sample
from tillercount.field.estimateflags import pair_flags, zone_flags
from tillercount.field.merge import by_spot, difference_at, mean_of, merge, one_definition
from tillercount.field.others import OtherPlants, other_plants
from tillercount.field.rowdoubt import RowDoubt, row_doubt
from tillercount.field.skips import RowSkips, row_skips
from tillercount.field.spots import PairedDifference, SeenRows, SpotDensity
from tillercount.field.twophotos import averaged_line, photos_apart
from tillercount.field.zones import ZoneSplit, split_by_zone
from tillercount.names import spot_text

__all__ = ["ASSUMED_CV", "DensityEstimate", "FieldEstimate", "estimate_field"]


@dataclass(frozen=True)
class FieldEstimate:
    """What the spots say about the field.

    Attributes
    ----------
    plants, shoots : DensityEstimate or None
        None where no spot has it.
    used : tuple of SpotDensity
        One record per spot, the values that entered: where hand counts correct the photos, the
        corrected ones.
    listed : tuple of SpotDensity
        Everything given, photos and hand counts of the same spot side by side.
    paired : tuple of PairedDifference
        Photo minus hand at spots that have both.
    definition : Definition
        What "shoots" counts.
    double : tuple of DoubleSample
        For plants and shoots, where there are photos and hand counts: each alone and together.
    dispersion : tuple of Dispersion
        For plants and shoots: how unevenly they stand from spot to spot.
    zones : tuple of ZoneSplit
        For plants and shoots, where spots come from several zones.
    rows_elsewhere : tuple of SeenRows
        Of photos of the field's other visits.
    """

    plants: DensityEstimate | None
    shoots: DensityEstimate | None
    used: tuple[SpotDensity, ...]
    listed: tuple[SpotDensity, ...]
    paired: tuple[PairedDifference, ...]
    definition: Definition
    level: float
    flags: tuple[str, ...] = ()
    double: tuple[DoubleSample, ...] = ()
    dispersion: tuple[Dispersion, ...] = ()
    zones: tuple[ZoneSplit, ...] = ()
    zone_areas: Mapping[str, float] | None = None
    rows_elsewhere: tuple[SeenRows, ...] = ()

    @property
    def spots(self) -> int:
        """How many spots."""
        return len(self.used)

    @property
    def row_skips(self) -> RowSkips | None:
        """Share of the drill rows in long gaps, by all photos that show rows."""
        return row_skips(self.listed)

    @property
    def row_doubt(self) -> RowDoubt | None:
        """What the rows that photos show say against a size."""
        return row_doubt([s.seen_rows for s in self.listed if s.seen_rows], self.rows_elsewhere)

    @property
    def other_plants(self) -> OtherPlants | None:
        """Plants that aren't the crop, by all photos."""
        return other_plants(self.listed, self.level)

    @property
    def combines(self) -> bool:
        """Whether photos and hand counts were put together, or photos left out."""
        return any(found.answer is not None for found in self.double)

    def entered(self, what: str) -> Sequence[SpotDensity]:
        """One record per spot that the mean of ``what`` rests on."""
        alone = any(f.what == what and f.method == "hand only" for f in self.double)
        return _by_hand(self.listed, what) if alone else self.used

    def by_photo(self, spot: SpotDensity, what: str) -> float | None:
        """What the photos of one of ``used`` said, per m², where pairs corrected that; else None.

        In the definition of ``listed``.
        """
        found = next((f for f in self.double if f.what == what), None)
        if found is None or found.slope is None:
            return None
        name = f"{what}_per_m2"
        same = [s for s in self.listed if s.key == spot.key and getattr(s, name) is not None]
        if not same or any(s.source == "hand" for s in same):
            return None
        return mean_of(same, name)

    @property
    def to_convert(self) -> tuple[SpotDensity, ...]:
        """Records to turn into another definition of shoots: pairs kept where they are used.

        A record without plants gets its spot's, since main stems may have to come off.
        """
        if not self.combines:
            return self.used
        plants = {spot.key: spot.plants_per_m2 for spot in self.used}
        return tuple(
            replace(spot, plants_per_m2=plants[spot.key])
            if spot.plants_per_m2 is None
            else spot
            for spot in self.listed
        )

    def again(self, spots: Sequence[SpotDensity]) -> FieldEstimate:
        """The same estimate from other records of the same spots."""
        return estimate_field(
            spots,
            level=self.level,
            zone_areas=self.zone_areas,
            rows_elsewhere=self.rows_elsewhere,
        )

    def role(self, spot: SpotDensity) -> str:
        """What became of a listed record: "used", "averaged", "left out", "hand count taken" or,
        where something of it still counts, "hand count taken in part"."""
        same = [s for s in self.listed if s.key == spot.key]
        if spot.source == "photo":
            by_hand = {what for s in same if s.source == "hand" for what in s.ways}
            alone = {found.what for found in self.double if found.method == "hand only"}
            counts = spot.ways.keys() - by_hand - alone
            if spot.ways.keys() & by_hand:
                return f"hand count taken{' in part' if counts else ''}"
            if not counts:
                return "left out"
        alike = sum(s.source == spot.source for s in same)
        return "averaged" if alike > 1 else "used"


def estimate_field(
    spots: Sequence[SpotDensity],
    *,
    level: float = 0.9,
    zone_areas: Mapping[str, float] | None = None,
    rows_elsewhere: Sequence[SeenRows] = (),
) -> FieldEstimate:
    """Mean densities of a field from its spots.

    Where a spot has a hand count and a photo, the hand count is its value and the pair's
    difference is reported; with enough such pairs they also correct the photos of other spots.
    Several hand counts of one spot are averaged into one value, so that a spot never counts twice.
    Every spot has the same weight, unless the areas of zones are given.

    Parameters
    ----------
    spots : sequence of SpotDensity
    level : float
        Level of the interval, between 0 and 1.
    zone_areas : mapping, optional
        Area of each zone, in any one unit. Zones then weigh by their area.
    rows_elsewhere : sequence of SeenRows
        Of photos of the field's other visits, against which this one's are held.

    Raises
    ------
    InputError
        No spots, a level outside (0, 1), shoots counted by different definitions, or zones that
        don't agree with their areas.
    """
    if not spots:
        raise InputError("no spots to assess; give photos, a counts file or a CSV of hand counts")
    if not 0.0 < level < 1.0:
        raise InputError(f"interval level {level!r} must lie between 0 and 1, like 0.9")
    definition = one_definition(spots)
    used: list[SpotDensity] = []
    paired: list[PairedDifference] = []
    flags: list[str] = []
    # what can't be put together is said by itself, and first
    odd = [(one.key, one.what) for one in photos_apart(spots)]
    for hands, photos in by_spot(spots):
        if len(hands) > 1:
            flags.append(f"{spot_text(hands[0].spot)}: {len(hands)} hand counts averaged into one "
                         "value")
        if len(photos) > 1:
            reported = [what for key, what in odd if key == photos[0].key]
            flags.extend(filter(None, [averaged_line(hands, photos, reported)]))
        used.append(merge(hands, photos, definition))
        gap = difference_at(hands, photos) if hands and photos else None
        if gap and (gap.plants_per_m2, gap.shoots_per_m2) != (None, None):
            paired.append(gap)
    found: dict[str, DensityEstimate | None] = {}
    double: list[DoubleSample] = []
    spread: list[Dispersion] = []
    zones: list[ZoneSplit] = []
    alike: dict[str, DensityEstimate | None] = {}
    for what in ("plants", "shoots"):
        found[what] = mean_of_spots(used, what, level)
        both = double_sample(spots, what, level)
        if both is not None:
            double.append(both)
            found[what] = both.answer or found[what]
            used = _corrected(used, spots, both)
        entered = used if both is None or both.method != "hand only" else _by_hand(spots, what)
        uneven = dispersion_of(entered, what)
        if uneven is not None:
            spread.append(uneven)
        split = split_by_zone(spots, entered, what, level, zone_areas)
        if split is not None:
            zones.append(split)
            alike[what] = found[what]
            found[what] = split.weighted or found[what]
    flags.extend(pair_flags(paired, double))
    flags.extend(zone_flags(used, zones, alike))
    for estimate in found.values():
        flags.extend(estimate.flags if estimate else ())
    for one in spread:
        flags.extend(one.flags)
    return FieldEstimate(
        plants=found["plants"],
        shoots=found["shoots"],
        used=tuple(used),
        listed=tuple(spots),
        paired=tuple(paired),
        definition=definition,
        level=level,
        flags=tuple(dict.fromkeys(flags)),
        double=tuple(double),
        dispersion=tuple(spread),
        zones=tuple(zones),
        zone_areas=zone_areas,
        rows_elsewhere=tuple(rows_elsewhere),
    )


def _by_hand(spots: Sequence[SpotDensity], what: str) -> list[SpotDensity]:
    hands = [s for s in spots if s.source == "hand" and getattr(s, f"{what}_per_m2") is not None]
    return [merge(same, [], same[0].definition) for same, _ in by_spot(hands)]


def _corrected(
    used: Sequence[SpotDensity], spots: Sequence[SpotDensity], both: DoubleSample
) -> list[SpotDensity]:
    """Spots known by photo alone get the density that the pairs correct it to."""
    if both.slope is None:
        return list(used)
    by_hand = {s.key for s in _by_hand(spots, both.what)}
    out = []
    for spot in used:
        value = getattr(spot, f"{both.what}_per_m2")
        if value is None or spot.key in by_hand:
            out.append(spot)
        elif both.what == "plants":
            out.append(replace(spot, plants_per_m2=both.corrected(value)))
        else:
            out.append(replace(spot, shoots_per_m2=both.corrected(value)))
    return out
