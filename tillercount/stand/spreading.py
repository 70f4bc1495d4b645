"""What to mind while nitrogen goes on: leaf burn, ground, cold, and what gets lost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from tillercount.stand.cautions import GROUND, Advice
from tillercount.stand.products import Product
from tillercount.stand.stage import Stage

__all__ = [
    "GROUNDS",
    "NOZZLES",
    "PROTECTION",
    "Conditions",
    "Ground",
    "Nozzle",
    "loss_order",
    "may_spread",
    "spreading_cautions",
]

Nozzle = Literal["stream", "flat fan"]
Ground = Literal["fit", "frozen", "snow", "saturated"]
NOZZLES: tuple[Nozzle, ...] = ("stream", "flat fan")
GROUNDS: tuple[Ground, ...] = ("fit", "frozen", "snow", "saturated")

OKLAHOMA = "Oklahoma State University 2021"
ONTARIO_2014 = "Ontario Ministry of Agriculture 2014"
ONTARIO_2021 = "Ontario 2021, press"

PROTECTION = Advice(
    "Wear what the label and the safety data sheet ask for: goggles and gloves at least; keep "
    "clear of the boom while it folds, and of power lines.",
    "common practice",
    "Goggles and gloves at least; keep clear of the boom and of power lines.",
)


@dataclass(frozen=True)
class Conditions:
    """Of one application; None where it isn't known.

    Attributes
    ----------
    air_f : float or None
        Air temperature at work, °F.
    wet_leaves : bool or None
        Dew or white frost on the leaves.
    herbicide : bool or None
        A herbicide in the tank.
    growing : bool or None
        Whether the last week had any growth.
    """

    nozzle: Nozzle | None = None
    air_f: float | None = None
    wet_leaves: bool | None = None
    windy: bool | None = None
    herbicide: bool | None = None
    ground: Ground | None = None
    growing: bool | None = None


def may_spread(conditions: Conditions) -> Advice | None:
    """The plain no, where the ground is frozen, under snow or saturated; None elsewhere."""
    if conditions.ground not in ("frozen", "snow", "saturated"):
        return None
    state = {"frozen": "frozen", "snow": "under snow", "saturated": "saturated"}
    return Advice(
        f"Don't spread now: the ground is {state[conditions.ground]}. {GROUND.text}", GROUND.source
    )


def spreading_cautions(
    of: Product, lb_n_ac: float, conditions: Conditions, stage: Stage | None = None
) -> list[Advice]:
    """What to mind with this product at this rate, that which matters most first."""
    out = []
    no = may_spread(conditions)
    if no is not None:
        out.append(no)
    out.extend(_cold(of, conditions))
    if of.lb_per_gal is not None:
        out.extend(_burn(of, lb_n_ac, conditions, stage))
    elif conditions.wet_leaves:
        out.append(
            Advice(
                "Dry fertiliser sticks to wet leaves and marks them: wait until they are dry.",
                "common practice",
            )
        )
    out.extend(_losses(of))
    out.append(PROTECTION)
    return out


def _cold(of: Product, conditions: Conditions) -> Iterator[Advice]:
    if conditions.growing is False:
        yield Advice(
            "No growth in the last week: the crop takes up next to nothing, so what goes on now "
            "lies there to be lost. Wait for growth; little nitrogen is used before jointing.",
            "Ohio State University 2023; common practice",
        )
    if of.salt_out_f is None or conditions.air_f is None:
        return
    if conditions.air_f <= of.salt_out_f:
        yield Advice(
            f"{of.name} salts out at about {of.salt_out_f:g} °F and it is "
            f"{conditions.air_f:g} °F: lines and nozzles will block.",
            of.salt_source,
        )


def _burn(
    of: Product, lb_n_ac: float, conditions: Conditions, stage: Stage | None
) -> Iterator[Advice]:
    if conditions.nozzle == "flat fan":
        hot = conditions.windy or (conditions.air_f is not None and conditions.air_f >= 70)
        yield Advice(
            f"Flat-fan nozzles with {of.name}: "
            + (
                "it is warm or windy, when they can kill top growth; a stream bar is safer."
                if hot
                else "in hot, windy weather they can kill top growth; a stream bar is safer."
            ),
            OKLAHOMA + ("; 70 °F as warm is our own reading" if hot else ""),
        )
    elif conditions.nozzle == "stream":
        yield Advice(
            "Streams burn less than flat fans, and fewer streams less than many; mind the height "
            "of the boom.",
            f"{OKLAHOMA}; {ONTARIO_2014}",
        )
    else:
        yield Advice(f"{of.name} burns leaves: use a stream bar rather than flat fans.", OKLAHOMA)
    if conditions.wet_leaves:
        yield Advice(
            "White frost or dew on the leaves worsens burn: apply to dry leaves or in rain, or "
            "dilute one to one with water.",
            ONTARIO_2021,
        )
    elif conditions.wet_leaves is None:
        yield Advice("Not on dew or white frost, which worsen burn.", ONTARIO_2021)
    yield Advice("One part water to one part UAN cuts the injury.", OKLAHOMA)
    if conditions.herbicide:
        yield from _with_herbicide(lb_n_ac, stage)
    if stage is not None and stage.feekes[1] > 5:
        yield Advice(
            "Leaf injury grows where nitrogen goes on past GS30.", "Virginia Tech abstract"
        )


def _with_herbicide(lb_n_ac: float, stage: Stage | None) -> Iterator[Advice]:
    late = stage is None or stage.gs[1] > 29
    if lb_n_ac >= 40 and late:
        yield Advice(
            f"{lb_n_ac:.0f} lb N/ac as UAN with a herbicide: at 40 lb after GS29, trials lost 2 to "
            "7 bu/ac in about 40 % of cases, mostly with 5 to 20 % of the leaves visibly hurt; a "
            "stressed crop fares worse.",
            "University of Nebraska CropWatch 2012",
        )
    if lb_n_ac > 30:
        yield Advice(
            f"{lb_n_ac:.0f} lb N/ac is more than the 30 lb with which some grass herbicides may "
            "be mixed; one mustn't be mixed at all and wants 14 days between. Leave the "
            "surfactant out to limit burn. The label decides.",
            "Johnston County, North Carolina 2011",
        )
    else:
        yield Advice(
            "Some grass herbicides mix with up to 30 lb N/ac, one with none and 14 days between; "
            "the label decides.",
            "Johnston County, North Carolina 2011",
        )
    yield Advice(
        "UAN as carrier: up to 4 to 5 % injury and no loss of yield in most mixes, but one mix on "
        "10 May lost 25 %.",
        "Ontario trials 2005-07 (Soltani 2012)",
    )


_LOSS = "Ohio State University 2023"


def _losses(of: Product) -> Iterator[Advice]:
    if of.kind == "UAN":
        yield Advice(
            "Early on UAN loses most, as a quarter of its nitrogen is nitrate; no stabiliser "
            "protects that part.",
            _LOSS,
            "Early on UAN loses most: a quarter of its nitrogen is nitrate.",
        )
    elif of.kind == "ammonium sulfate":
        yield Advice("Early on ammonium sulfate loses least.", _LOSS)
    elif of.kind == "urea":
        yield Advice("Urea loses little early on, unless it goes off as ammonia.", _LOSS)


def loss_order() -> Advice:
    """Which product loses most when it goes on early."""
    return Advice(
        "Put on early, UAN loses most and ammonium sulfate least; urea loses little unless it "
        "goes off as ammonia.",
        _LOSS,
    )
