"""Amounts of product as a machine can be set, not finer: for people; the JSON keeps them exact.

The steps are a convention of our own: a dry spreader to 5 lb/ac (1 lb below 50), a sprayer to half
a gallon (a tenth below 5), loads and costs to about one in a hundred.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from tillercount.stand.products import Amount

__all__ = [
    "amount_text",
    "cost_text",
    "ends_text",
    "field_text",
    "load",
    "set_cost",
    "set_dry",
    "set_liquid",
]


def set_dry(value: float) -> float:
    """Pounds per acre (or kilograms per hectare) that a spreader can be set to."""
    return _step(value, 1.0 if value < 50 else 5.0)


def set_liquid(value: float) -> float:
    """Gallons per acre that a sprayer can be set to."""
    return _step(value, 0.1 if value < 5 else 0.5)


def set_cost(value: float) -> float:
    """Cost of an acre's product, to ten cents."""
    return _step(value, 0.1)


def load(value: float) -> float:
    """A load or a sum of money, to two or three figures."""
    if value <= 0:
        return 0.0
    return _step(value, 10.0 ** max(0, math.floor(math.log10(value)) - 2))


def _step(value: float, step: float) -> float:
    return math.floor(value / step + 0.5) * step


def ends_text(values: Sequence[float]) -> str:
    """Two ends that are rounded already: "80-130", "7.5-12", "8,620-14,100"."""
    low, high = (f"{round(v, 1):,.10g}" for v in (values[0], values[-1]))
    return low if low == high else f"{low}-{high}"


def amount_text(
    amounts: Sequence[Amount], *, metric: bool = False, all_metric: bool = False
) -> str:
    """What goes on an acre: gallons first for a liquid, pounds first for a dry product.

    ``metric``: per hectare behind; ``all_metric``: sulfur and cost as well.
    """
    metric = metric or all_metric
    dry = ends_text([set_dry(a.lb_ac) for a in amounts])
    dry_text = f"{dry} lb"
    if metric:
        dry_text += f" ({ends_text([set_dry(a.kg_ha) for a in amounts])} kg/ha)"
    gallons = [a.gal_ac for a in amounts if a.gal_ac is not None]
    litres = [a.l_ha for a in amounts if a.l_ha is not None]
    text = dry_text
    if gallons:
        wet = f"{ends_text([set_liquid(v) for v in gallons])} gal"
        if metric:
            wet += f" ({ends_text([set_dry(v) for v in litres])} L/ha)"
        text = f"{wet} or {dry_text}"
    sulphur = [a.lb_s_ac for a in amounts]
    if max(sulphur):
        text += f", with {ends_text([_step(v, 1.0) for v in sulphur])} lb sulfur"
        if all_metric:
            text += f" ({ends_text([_step(a.kg_s_ha, 1.0) for a in amounts])} kg/ha)"
    cost = cost_text(amounts)
    if cost and all_metric:
        cost += f" ({cost_text(amounts, metric=True)} per hectare)"
    return f"{text}, cost {cost}" if cost else text


def cost_text(amounts: Sequence[Amount], *, metric: bool = False) -> str:
    """Cost of an acre's product, or a hectare's, to ten cents; empty without a price."""
    costs = [c for a in amounts if (c := a.cost_ha if metric else a.cost_ac) is not None]
    if not costs:
        return ""
    low, high = (f"{set_cost(v):.2f}" for v in (costs[0], costs[-1]))
    return low if low == high else f"{low}-{high}"


def field_text(
    amounts: Sequence[Amount], *, one_unit: bool = False, metric: bool = False
) -> str:
    """The load for the whole field, and its cost; empty without the field's area.

    ``one_unit``: a liquid in gallons alone. ``metric``: kilograms and litres behind.
    """
    pounds = [a.field_lb for a in amounts if a.field_lb is not None]
    if not pounds:
        return ""
    gallons = [a.field_gal for a in amounts if a.field_gal is not None]
    text = f"{ends_text([load(v) for v in pounds])} lb"
    if metric:
        kilograms = [a.field_kg for a in amounts if a.field_kg is not None]
        text += f" ({ends_text([load(v) for v in kilograms])} kg)"
    if gallons:
        wet = f"{ends_text([load(v) for v in gallons])} gal"
        if metric:
            litres = [a.field_l for a in amounts if a.field_l is not None]
            wet += f" ({ends_text([load(v) for v in litres])} L)"
        text = wet if one_unit else f"{wet} or {text}"
    costs = [a.field_cost for a in amounts if a.field_cost is not None]
    return f"{text}, cost {ends_text([load(v) for v in costs])}" if costs else text
