"""Densities of a field as rows of the screen: with their intervals, and what they are made of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

__all__ = ["density_text", "sampling_rows", "shown_in"]


def density_text(
    density: dict[str, Any],
    cv: float | None,
    borders: Sequence[float] = (),
    *,
    metric: bool = False,
) -> str:
    """As fine as the page has it, beside the rule's borders too; all that comes in is per ft²."""
    from tillercount.stand.words import number_text

    spots = density["spots"]
    one, unit = shown_in(metric=metric)
    # the mean stays on its side of a line, the ends are rounded plainly
    mean = number_text(density["mean"] * one, [line * one for line in borders])
    low, high = (number_text(density[name] * one) for name in ("low", "high"))
    text = (
        f"{mean} {unit} ({low}–{high}, "
        f"{density['level']:.0%} interval; {spots} spot{'s' if spots != 1 else ''}"
    )
    return text + (f", spot-to-spot CV {cv:.0%})" if cv is not None else ")")


def shown_in(*, metric: bool) -> tuple[float, str]:
    """What a density per ft² is times, and the unit that it is shown in."""
    from tillercount.units import per_m2

    return (per_m2(1.0), "per m²") if metric else (1.0, "per ft²")


def sampling_rows(
    sampling: dict[str, Any], what: str, *, metric: bool = False
) -> list[tuple[str, str]]:
    """Rows below a density: each way alone, zones, unevenness."""
    times, unit = shown_in(metric=metric)
    rows = []
    both = sampling["photo_and_hand"].get(what)
    if both is not None:
        for label, key in (
            ("  by hand alone", "hand_per_ft2"),
            ("  by photo alone", "photo_per_ft2"),
            ("  together", "combined_per_ft2"),
        ):
            if both[key] is not None:
                rows.append((label, density_text(both[key], None, metric=metric)))
        rows.append(("  taken", f"{both['method']}: {both['why']}"))
        if both["why_outside"]:
            rows.append(("  outside both", f"why: see “{what.capitalize()} both ways” below"))
    zones = sampling["zones"].get(what)
    if zones is not None:
        for zone in zones["zones"]:
            share = zone["area_share"]
            text = density_text(zone["per_ft2"], None, metric=metric)
            more = f", {share:.0%} of the area" if share is not None else ""
            rows.append((f"  zone {zone['zone']}", text + more))
    uneven = sampling["dispersion"].get(what)
    if uneven is not None and uneven["index"] is not None:
        rows.append(("  unevenness", _uneven(uneven, what)))
    skips = sampling["row_gaps"] if what == "plants" else None
    if skips is not None:
        text = (
            f"{skips['share']:.0%} of {skips['row_length_ft']:.1f} ft of row in gaps longer than "
            f"{skips['gap_over_in']:g} in ({skips['photos_with_gaps']} of {skips['photos']} "
            f"photo{'s' if skips['photos'] != 1 else ''})"
        )
        rows.append(("  row gaps", text))
    for under in sampling["spots_below"]:
        if under["measures"] == what:
            text = (
                f"{under['spots']} of {under['of']} spot{'s' if under['of'] != 1 else ''} (so "
                f"{under['low']:.0%}–{under['high']:.0%} of such spots, {under['level']:.0%} "
                "interval)"
            )
            rows.append((f"  below {under['below_per_ft2'] * times:.3g} {unit}", text))
    return rows


def _uneven(uneven: dict[str, Any], what: str) -> str:
    if what == "shoots":
        return f"variance over mean {uneven['index']:.2f} (shoots come in plants, so above 1)"
    text = f"variance over mean {uneven['index']:.2f} (1 if at random); "
    if uneven["rough"]:
        return text + "too few per spot to test"
    if uneven["p_if_random_more"] < 0.05:
        return text + f"patchier than chance (p {uneven['p_if_random_more']:.2g})"
    if uneven["p_if_random_less"] < 0.05:
        return text + f"more even than chance (p {uneven['p_if_random_less']:.2g})"
    return text + "no more than chance"
