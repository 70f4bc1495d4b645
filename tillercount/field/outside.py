"""Why photos and hand counts together may come to less than either alone, or to more.

With both ways at n spots (hand ȳ, photo x̄) and photos at n' spots (x̄'), the two together are
ȳ + b·(x̄' - x̄) (`tillercount.field.twophase`). Where the spots that were dug up stand thicker than
most *and* photos read too many, hand counts alone and photos alone are both too high, and the two
together lie below both: that is the correction at work, not a slip. Likewise above both.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tillercount.units import per_ft2

if TYPE_CHECKING:
    from tillercount.field.double import DoubleSample

__all__ = ["side_of_both", "why_outside"]


def side_of_both(found: DoubleSample) -> str:
    """"below" or "above" where the combined mean lies there of both single ones, else "".

    To a tenth per ft², as it is shown.
    """
    if found.combined is None:
        return ""
    one, two, both = (
        round(per_ft2(e.mean), 1) for e in (found.hand, found.photo, found.combined)
    )
    return "below" if both < min(one, two) else "above" if both > max(one, two) else ""


def why_outside(found: DoubleSample) -> str:
    """The reason with its figures (per ft²), so that it can be worked out again; "" if inside."""
    if found.method == "as counted":
        return _as_counted(found)
    side = side_of_both(found)
    if not side or found.pair_hand is None or found.pair_photo is None or found.slope is None:
        return ""
    assert found.combined is not None
    dug, read, every = (
        per_ft2(v) for v in (found.pair_hand, found.pair_photo, found.photo.mean)
    )
    slope, n, alone = found.slope, found.pairs, found.hands - found.pairs
    by_photo = dug + slope * (every - read)  # of all spots with a photo, corrected
    thick, high, many = (
        ("thicker", "high", "too many") if side == "below" else ("thinner", "low", "too few")
    )
    reasons = []
    if slope <= 0:
        reasons.append(f"photos go against the hand counts here (slope {slope:.2f})")
    elif (by_photo < dug) == (side == "below"):
        reasons.append(
            f"the {n} spots with both stand {thick} than most (their photos read {read:.1f}, all "
            f"{found.photos} photos {every:.1f}), so hand counts alone come out too {high}"
        )
    if (by_photo < every) == (side == "below"):
        reasons.append(
            f"photos read {many} (at those spots {read:.1f} where {dug:.1f} were counted), so "
            f"photos alone come out too {high}"
        )
    sums = f"{dug:.1f} + {slope:.2f} x ({every:.1f} - {read:.1f}) = {by_photo:.1f}"
    if alone:
        rest = (found.hands * per_ft2(found.hand.mean) - n * dug) / alone
        whole = found.photos + alone
        mean = (found.photos * by_photo + alone * rest) / whole
        reasons.append(
            f"the {alone} counted by hand alone, at {rest:.1f}, weigh {alone} of {whole} here and "
            f"{alone} of {found.hands} among the hand counts"
        )
        sums += f"; ({found.photos} x {by_photo:.1f} + {alone} x {rest:.1f}) / {whole} = {mean:.1f}"
    return f"together it lies {side} both, since {'; and '.join(reasons)}: {sums}"


def _as_counted(found: DoubleSample) -> str:
    """The same where no pairs correct the photos, and each spot just counts once."""
    left = found.photos - found.pairs
    if not found.pairs or not left or found.pair_hand is None or found.pair_photo is None:
        return ""
    hand, photo = per_ft2(found.hand.mean), per_ft2(found.photo.mean)
    dug, read = per_ft2(found.pair_hand), per_ft2(found.pair_photo)
    rest = (found.photos * photo - found.pairs * read) / left
    spots = found.hands + left
    mean = (found.hands * hand + left * rest) / spots
    ends = [round(v, 1) for v in (hand, photo)]
    side = "below" if round(mean, 1) < min(ends) else "above" if round(mean, 1) > max(ends) else ""
    if not side:
        return ""
    both = f"{found.pairs} spots" if found.pairs > 1 else "1 spot"
    return (
        f"the field's mean lies {side} both, since each spot counts once: at the {both} counted "
        f"both ways the hand count stands ({dug:.1f}) instead of the photo ({read:.1f}), and "
        f"{left} of the {found.photos} photos are of other spots ({rest:.1f}): "
        f"({found.hands} x {hand:.1f} + {left} x {rest:.1f}) / {spots} = {mean:.1f}"
    )
