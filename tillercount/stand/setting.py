"""Amounts of product as a machine can be set, not finer: for people; the JSON keeps them exact.

The steps are a convention of our own: a dry spreader to 5 lb/ac (1 lb below 50), a sprayer to half
a gallon (a tenth below 5), loads to about one in a hundred. Costs are those of the amounts so set,
so that whoever multiplies what is printed comes to them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from tillercount.stand.products import Amount

__all__ = [
    "amount_text",
    "cost_as_set",
    "cost_text",
    "ends_text",
    "field_text",
    "load",
    "set_cost",
    "set_dry",
    "set_liquid",
]


_BY_VOLUME, _METRIC = frozenset({"gal", "L"}), frozenset({"t", "kg", "L"})
"""Units of a price (`tillercount.stand.products.Price`)."""


def set_dry(value: float) -> float:
    """Pounds per acre (or kilograms per hectare) that a spreader can be set to."""
    return _step(value, 1.0 if value < 50 else 5.0)


def set_liquid(value: float) -> float:
    """Gallons per acre that a sprayer can be set to."""
    return _step(value, 0.1 if value < 5 else 0.5)


def set_cost(value: float) -> float:
    """Cost of an acre's product, to the cent."""
    return _step(value + 1e-9, 0.01)  # so that 5.5 times 1.55 in floats is still a half cent


def load(value: float) -> float:
    """A load, to two or three figures."""
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


def cost_as_set(one: Amount, *, metric: bool = False) -> float | None:
    """Cost of the amount that is printed for an acre, or for a hectare; None without a price."""
    exact = one.cost_ha if metric else one.cost_ac
    if one.gal_ac is not None and one.l_ha is not None and one.priced in _BY_VOLUME:
        amount = one.l_ha if metric else one.gal_ac
        printed = set_dry(amount) if metric else set_liquid(amount)
    else:
        amount = one.kg_ha if metric else one.lb_ac
        printed = set_dry(amount)
    return exact * printed / amount if exact and amount else exact


def _cost_of_load(one: Amount, *, metric: bool, volume: bool) -> float | None:
    """Cost of the load that is printed for the field; None without a price or an area."""
    in_metric = metric and one.priced in _METRIC
    by_volume = volume or one.priced in _BY_VOLUME
    wet = one.field_l if in_metric else one.field_gal
    dry = one.field_kg if in_metric else one.field_lb
    amount = wet if by_volume and wet is not None else dry
    return one.field_cost * load(amount) / amount if one.field_cost and amount else one.field_cost


def cost_text(amounts: Sequence[Amount], *, metric: bool = False) -> str:
    """Cost of an acre's product, or a hectare's, as it is printed; empty without a price."""
    costs = [c for a in amounts if (c := cost_as_set(a, metric=metric)) is not None]
    if not costs:
        return ""
    low, high = (f"{set_cost(v):,.2f}" for v in (costs[0], costs[-1]))
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
    costs = [
        cost
        for a in amounts
        if (cost := _cost_of_load(a, metric=metric, volume=one_unit)) is not None
    ]
    return f"{text}, cost {ends_text([_step(v, 1.0) for v in costs])}" if costs else text
