"""What was measured of a model, for its card: counts, marked areas, real photos, other things."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from typing import Any

__all__ = ["measured"]

_NUMBER = re.compile(r"\d+(\.\d+)?( %|%)?")


def measured(evaluation: Mapping[str, Any]) -> Iterator[str]:
    """The card's parts from what `tillercount.train.evaluate` writes.

    "" for a part that wasn't measured.
    """
    yield _figures(evaluation)
    yield _marked(evaluation)
    yield _wheat(evaluation)
    yield _others(evaluation)
    yield _choices(evaluation)


def _figures(evaluation: Mapping[str, Any]) -> str:
    sets = evaluation.get("sets", {})
    if not sets:
        return ""
    lines = [
        "## Counts",
        "",
        "Relative RMSE and bias are shares of the mean true count. Width: mean width of the 90 % "
        "interval over that of a normal distribution with the same RMSE. By third: of the true "
        "density, thin to thick.",
        "",
        "| photos | what | n | relative RMSE | bias | R² | 90 % holds | by third | width |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name, figures in sets.items():
        for what in ("plants", "shoots"):
            if what not in figures:
                continue
            f = figures[what]
            by = " / ".join(f"{t['coverage']:.0%}" for t in f["by_third"]) or "–"
            lines.append(
                f"| {name} | {what} | {f['n']} | {_n(f['rel_rmse'])} | {f['bias']:+.1%} | "
                f"{_n(f['r2'])} | {f['coverage']:.1%} | {by} | {_n(f['width_ratio'])} |"
            )
    lines.append("")
    for name, figures in sets.items():
        text = f"- {name}: {figures['counted']} of {figures['photos']} photos counted"
        if "outline_iou_over_0.98" in figures:
            text += (
                f"; marked area found with IoU over 0.98 on {figures['outline_iou_over_0.98']:.1%}"
                f" (median IoU {figures['outline_iou_median']:.4f})"
            )
        if "seconds_median" in figures:
            text += f"; {figures['seconds_median']:.2f} s a photo (median)"
        if figures["refused"]:
            text += f"; refused: {_reasons(figures['refused'])}"
        lines.append(text + ".")
    if evaluation.get("rescored"):
        lines += [
            "",
            "Scenes were counted before the calibration was fitted anew; their counts stand, their "
            "intervals are those of this calibration.",
        ]
    if "usable" in evaluation:
        lines += ["", f"Usable photos: {evaluation['usable']}; judged by the truth alone."]
    if "surface_iou" in evaluation:
        shares = ", ".join(
            f"{name} {value:.3f}" for name, value in evaluation["surface_iou"].items()
        )
        lines += ["", f"IoU of surfaces on scenes: {shares}."]
    if "points_f1" in evaluation:
        f1 = evaluation["points_f1"]
        lines += [
            "",
            f"Points against visible bases (within 5 mm), F1: plants {f1['plants']:.3f}, "
            f"shoots {f1['shoots']:.3f}.",
        ]
    if "peak_memory_mb" in evaluation:
        lines += [
            "",
            f"Peak memory of the whole evaluation: {evaluation['peak_memory_mb']:.0f} MB.",
        ]
    return "\n".join(lines)


def _reasons(refused: Mapping[str, int], most: int = 8) -> str:
    """Reasons by how often they were given, numbers in them left out; rare ones as one sum."""
    together: dict[str, int] = {}
    for reason, n in refused.items():
        plain = _NUMBER.sub("…", reason)
        together[plain] = together.get(plain, 0) + n
    often = sorted(together.items(), key=lambda item: -item[1])
    shown = [f"{reason} ({n})" for reason, n in often[:most]]
    rest = sum(n for _, n in often[most:])
    return "; ".join([*shown, *([f"other reasons ({rest})"] if rest else [])])


def _marked(evaluation: Mapping[str, Any]) -> str:
    """How well the marked area was found, by kind, on usable scenes; false finds."""
    table = evaluation.get("sets", {}).get("scenes, usable photos", {}).get("outlines")
    bare = evaluation.get("bare")
    if not table and not bare:
        return ""
    lines = ["## The marked area", ""]
    if table:
        when = " as it was when they were counted" if evaluation.get("rescored") else ""
        lines += [
            f"Usable scenes, found by the program{when}.",
            "",
            "| kind | photos | IoU over 0.98 | refused | median IoU | lowest accepted |",
            "|---|---|---|---|---|---|",
        ]
        lines += [
            f"| {kind} | {f['photos']} | {f['over_0.98']:.1%} | {f['refused']} | "
            f"{f['median']:.4f} | {f['lowest']:.3f} |"
            for kind, f in table.items()
        ]
    if bare:
        lines += [
            "",
            f"Of {bare['photos']} photos without a marked area, with decoys, each asked for "
            f"{', '.join(bare['asked'])}: an area was found on {bare['found']}.",
        ]
    return "\n".join(lines)


def _wheat(evaluation: Mapping[str, Any]) -> str:
    sets = evaluation.get("wheat", {}).get("sets", {})
    if not sets:
        return ""
    lines = [
        "## Real photos of winter wheat",
        "",
        "Plant masks of Zenkl et al. 2022; plants as read from the pictures by two readers, where "
        "both found them countable. The scale of these photos is judged from the row spacing.",
        "",
        "| photos | n | plant IoU | cover r | cover bias | read | plants, rel. RMSE | bias | r |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name, f in sets.items():
        read = (
            f"{f['read']} | {_n(f['plants_rel_rmse'])} | {f['plants_bias']:+.1%} | "
            f"{_n(f['plants_r'])}"
            if "read" in f
            else "– | – | – | –"
        )
        lines.append(
            f"| {name} | {f['photos']} | {_n(f['plant_iou'])} | {_n(f['cover_r'])} | "
            f"{f['cover_bias']:+.3f} | {read} |"
        )
    return "\n".join(lines)


def _others(evaluation: Mapping[str, Any]) -> str:
    others = evaluation.get("others")
    if not others:
        return ""
    return (
        f"## Other things\n\nOf {others['photos']} photos of other things than a young cereal "
        f"stand, {others['unusual']} were called unusual and {others['refused']} refused."
    )


def _choices(evaluation: Mapping[str, Any]) -> str:
    choices = evaluation.get("choices")
    if not choices:
        return ""
    lines = [
        "## What each choice brings",
        "",
        f"Relative RMSE (and bias) of counts on the same {choices[0]['scenes']['photos']} scenes "
        "inside their true outlines, on the other renderer's photos, and on real photos that the "
        "weights never saw.",
        "",
        "| weights | plants | shoots | other renderer: plants | shoots | real plants | plant IoU |",
        "|---|---|---|---|---|---|---|",
    ]
    for one in choices:
        cells = [
            _rmse_bias(one[where][what]) if one.get(where) else "–"
            for where in ("scenes", "other") for what in ("plants", "shoots")
        ]
        real = one.get("real") or {}
        read = {"rel_rmse": real.get("plants_rel_rmse"), "bias": real.get("plants_bias")}
        cells.append(_rmse_bias(read) if read["rel_rmse"] is not None else "–")
        cells.append(_n(real["plant_iou"]) if real else "–")
        lines.append(f"| {one['choice']} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _rmse_bias(figures: Mapping[str, Any]) -> str:
    return f"{_n(figures['rel_rmse'])} ({figures['bias']:+.0%})"


def _n(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.3f}"
