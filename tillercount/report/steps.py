"""The steps from counts to verdict: as the record keeps them, and as a metric screen tells them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from tillercount.stand.classify import in_unit
from tillercount.stand.steptexts import (
    ends_text,
    mean_text,
    reckoned_text,
    spots_text,
    stop_text,
    ways_text,
)
from tillercount.units import per_ft2, per_m2

if TYPE_CHECKING:
    from tillercount.stand.assessment import Assessment, Step

__all__ = ["metric_step", "step_record"]


def step_record(a: Assessment, step: Step) -> dict[str, Any]:
    """One step; ``per_m2`` holds what a metric page says instead of its ``value``."""
    return {
        "what": step.what,
        "value": step.value,
        "why": step.why,
        "kind": step.kind or None,
        "of": step.of or None,
        "figures": dict(step.figures),
        "per_m2": _per_m2(a, step),
        "per_ft2": _per_ft2(a, step),
    }


def metric_step(a: Assessment, step: Step) -> Step:
    """Same step with this field's densities per m²; what its rules and publishers say stays."""
    found = _per_m2(a, step)
    if found is None:
        return step
    if step.kind == "spots":
        each = [(one["spot"], one["plants"], one["shoots"]) for one in found["spots"]]
        return replace(step, value=spots_text(a.field, each, "per m²"))
    if step.kind == "mean":
        plants = step.of == "plants"
        estimate, judged = (a.field.plants, a.plants) if plants else (a.field.shoots, a.shoots)
        assert estimate is not None  # the step is about it
        borders = [] if judged is None else [per_m2(line) for line in judged.borders_per_ft2]
        said = mean_text(found, estimate, borders)
        return replace(step, what=f"{step.of.capitalize()} per m²", value=said)
    if step.kind == "both_ways":
        return replace(step, value=ways_text(found))
    if step.kind == "stop":
        return replace(step, value=stop_text(step.figures["may_stop"], **found))
    kept = step.figures
    rows = [
        (row["factor"], ends, row["source"])
        for row, ends in zip(kept["by_source"], found["by_source"], strict=True)
    ]
    most = per_m2(kept["at_most"]) if kept["high"] >= kept["at_most"] else None
    heads = ends_text(per_m2(kept["low"]), per_m2(kept["high"]))
    why = reckoned_text(found["from"], rows, most)
    return replace(step, value=f"{step.value} ({heads} per m²)", why=why)


def _per_ft2(a: Assessment, step: Step) -> dict[str, Any] | None:
    """The ends of a stop rule, which ``figures`` has in the rule's unit."""
    found = _per_m2(a, step) if step.kind == "stop" else None
    if found is None:
        return None
    return {end: None if value is None else per_ft2(value) for end, value in found.items()}


def _per_m2(a: Assessment, step: Step) -> dict[str, Any] | None:
    kept = step.figures
    if step.kind == "spots":
        return {
            "spots": [
                {"spot": spot.spot, "plants": spot.plants_per_m2, "shoots": spot.shoots_per_m2}
                for spot in a.field.used
            ]
        }
    if step.kind == "mean":
        return _ends(kept)
    if step.kind == "both_ways":
        ways = {name: kept[f"{name}_per_ft2"] for name in ("hand", "photo", "combined")}
        return {name: _ends(found) for name, found in ways.items() if found is not None}
    if step.kind == "stop":
        result = a.plants if step.of == "plants" else a.shoots
        assert result is not None  # the step is about it
        one = in_unit(1.0, result.rule)
        return {end: None if kept[end] is None else kept[end] / one for end in ("low", "high")}
    if step.kind == "heads":
        rows = kept["by_source"]
        return {
            "from": [per_m2(v) for v in kept["from"]],
            "by_source": [[per_m2(row["low"]), per_m2(row["high"])] for row in rows],
        }
    return None


def _ends(found: Any) -> dict[str, float]:
    return {name: per_m2(found[name]) for name in ("mean", "low", "high")}
