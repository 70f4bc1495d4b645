"""The model's card: what it is and what it was trained on, from its metadata.

How good it was measured to be comes from `tillercount.model.measured`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tillercount.model.calibrate import coverage_spread
from tillercount.model.measured import measured

__all__ = ["write_card"]


def write_card(
    path: Path, info: Mapping[str, Any], evaluation: Mapping[str, Any], pictures: Sequence[str] = ()
) -> Path:
    """Write ``card.md`` from a model's metadata and an evaluation; every figure is measured.

    ``evaluation`` is what `tillercount.train.evaluate` writes; parts that weren't measured are
    left out of the card, not made up.
    """
    parts = [
        _what(info),
        _trained(info),
        _licence(info),
        *measured(evaluation),
        _calibration(info),
        _limits(),
    ]
    if pictures:
        parts.append("\n\n".join(f"![{name.removesuffix('.png')}]({name})" for name in pictures))
    path.write_text("\n\n".join(part for part in parts if part) + "\n", encoding="utf-8")
    return path


def _what(info: Mapping[str, Any]) -> str:
    tiles, shown = info["tiles"], info["thresholds"]
    return f"""# Model `{info["name"]}`, version {info["version"]}

Counts plants and shoots of young small grains in a marked area, and maps what covers the ground.

| | |
|---|---|
| input | RGB top view at {info["input"]["mm_per_px"]:g} mm per pixel, any size |
| surfaces | {", ".join(info["classes"])} |
| pieces | {tiles["tile_px"]} px, overlap {tiles["overlap_px"]} px; {_views(tiles["views"])} |
| score from which points are shown | plants {shown["plant"]:g}, shoots {shown["shoot"]:g} |
| refused from a novelty of | {info["novelty"].get("refuse_from", "no limit")} |
| shown besides, to tell them from stands | {_things(info)} |"""


def _things(info: Mapping[str, Any]) -> str:
    """Other things that the model knows, with the number of pictures; refused ones are marked."""
    things = info.get("things") or {}
    growing = set(things.get("growing", ()))
    return ", ".join(
        f"{name} {count}{' (refused from a likeness of 2)' if name in growing else ''}"
        for name, count in things.get("pictures", {}).items()
    ) or "nothing"


def _views(views: int) -> str:
    return "one view" if views == 1 else f"mean of {views} views"


def _trained(info: Mapping[str, Any]) -> str:
    lines = ["## Trained on", ""]
    lines += [f"- {what}" for what in info["trained_on"]]
    training = info["training"]
    known = (
        "scenes", "steps_on_scenes_alone", "steps", "seconds", "batch", "crop_px", "cards",
        "processes", "seed", "torch",
    )
    facts = [
        f"{name.replace('_px', ', px').replace('_', ' ')} {training[name]}"
        for name in known
        if name in training
    ]
    lines += ["", "Run: " + "; ".join(facts) + "."]
    if training.get("stints"):
        lines += ["", "Stints, each from the weights of the one before:", ""]
        lines += [f"1. {_stint(one)}" for one in training["stints"]]
    if training.get("plots_held_out"):
        plots = ", ".join(training["plots_held_out"])
        lines += ["", f"Plots of real photos never trained on: {plots}."]
    return "\n".join(lines)


def _stint(one: Mapping[str, Any]) -> str:
    """One stint as `tillercount.train.run.Run.stints` keeps it."""
    parts = [f"{one['steps']:,} steps" if one.get("steps") else "an unknown number of steps"]
    if one.get("crops"):
        parts.append(f"{one['crops']:,} crops")
    if one.get("scenes"):
        parts.append(f"of {one['scenes']:,} rendered photos")
    if one.get("real_photos"):
        parts.append(f"and {one['real_photos']} real ones")
    return " ".join(parts)


def _licence(info: Mapping[str, Any]) -> str:
    text = f"## Licence\n\nWeights: {info['licence']}."
    if info.get("attribution"):
        text += (
            f" They were trained on {info['attribution']}; whoever passes them on, changed or "
            "not, names this source and keeps this licence. The program's code has its own "
            "licence."
        )
    return text


def _calibration(info: Mapping[str, Any]) -> str:
    if not info["calibration"]:
        return "## Calibration\n\nNone: this model gives no intervals."
    lines = ["## Calibration", ""]
    for name, values in info["calibration"].items():
        low, high = coverage_spread(int(values["n"]))
        groups = len(values["scores"])
        by = f"{groups} groups by count" if groups > 1 else "one group"
        lines.append(
            f"- {name}: split conformal on the {values['scale']} scale, {values['n']} photos "
            f"({values['source']}), {by}. On photos of that kind a 90 % interval really covers "
            f"{low:.1%} to {high:.1%} (5 to 95 % of the beta law for that many photos). The two "
            "or three numbers that set the error's size were fitted on the same photos."
        )
    return "\n".join(lines)


def _limits() -> str:
    return """## Limits

- Trained on rendered stands; real fields differ. Until photos with hand counts from your own
  fields have been used to calibrate it, take the interval as that of rendered stands, and count
  some spots by hand.
- For small grains from the first leaves to the end of tillering. Closed canopies hide bases:
  what is hidden is inferred, not seen.
- Grass weeds and volunteer cereals can look like the crop.
- A count is one input to a decision on fertiliser, herbicide, insurance or replanting. Follow
  product labels, your insurer's rules and a licensed adviser, who see more than the photo shows."""
