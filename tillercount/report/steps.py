"""The steps from counts to verdict in the record: as told, and their figures per m²."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tillercount.stand.classify import in_unit
from tillercount.units import per_ft2, per_m2

if TYPE_CHECKING:
    from tillercount.stand.assessment import Assessment, Step

__all__ = ["step_record"]


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
