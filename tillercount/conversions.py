"""Exact conversions.

Inside the program there is one system (mm, m², per m²). Factors follow from the definitions of the
units (1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 acre = 43,560 ft²), never from copied tables.
"""

from __future__ import annotations

from tillercount.errors import InputError

__all__ = [
    "FT2_PER_ACRE",
    "KG_PER_HA_PER_LB_PER_ACRE",
    "KG_PER_LB",
    "M2_PER_ACRE",
    "M2_PER_FT2",
    "MM_PER_FT",
    "MM_PER_IN",
    "TEST_WEIGHT_LB",
    "acre_to_per_m2",
    "bu_per_ac_to_t_per_ha",
    "kg_per_ha",
    "lb_per_ac",
    "per_acre",
    "per_ft2",
    "per_m2",
    "t_per_ha_to_bu_per_ac",
    "test_weight_lb",
]

MM_PER_IN = 25.4
MM_PER_FT = 304.8
M2_PER_FT2 = 0.09290304
FT2_PER_ACRE = 43_560.0
M2_PER_ACRE = FT2_PER_ACRE * M2_PER_FT2
KG_PER_LB = 0.45359237
KG_PER_HA_PER_LB_PER_ACRE = KG_PER_LB / M2_PER_ACRE * 10_000.0

TEST_WEIGHT_LB = {"wheat": 60.0, "barley": 48.0, "oats": 32.0, "rye": 56.0}
"""Pounds in a US standard bushel. From memory, apart from 60, 48 and 32, which agree with the
constants in NDSU A-290 (2005); triticale differs by market and is left out on purpose."""


def per_ft2(per_m2: float) -> float:
    """Density per square foot from density per square metre."""
    return per_m2 * M2_PER_FT2


def per_m2(per_ft2: float) -> float:
    """Density per square metre from density per square foot."""
    return per_ft2 / M2_PER_FT2


def per_acre(per_m2: float) -> float:
    """Density per US acre from density per square metre."""
    return per_m2 * M2_PER_ACRE


def acre_to_per_m2(per_acre: float) -> float:
    """Density per square metre from density per US acre."""
    return per_acre / M2_PER_ACRE


def kg_per_ha(lb_per_ac: float) -> float:
    """Kilograms per hectare from pounds per acre."""
    return lb_per_ac * KG_PER_HA_PER_LB_PER_ACRE


def lb_per_ac(kg_per_ha: float) -> float:
    """Pounds per acre from kilograms per hectare."""
    return kg_per_ha / KG_PER_HA_PER_LB_PER_ACRE


def bu_per_ac_to_t_per_ha(bu_per_ac: float, crop: str = "wheat") -> float:
    """Tonnes per hectare from bushels per acre, by the crop's standard bushel."""
    return kg_per_ha(bu_per_ac * test_weight_lb(crop)) / 1000.0


def t_per_ha_to_bu_per_ac(t_per_ha: float, crop: str = "wheat") -> float:
    """Bushels per acre from tonnes per hectare, by the crop's standard bushel."""
    return lb_per_ac(t_per_ha * 1000.0) / test_weight_lb(crop)


def test_weight_lb(crop: str) -> float:
    """Pounds in a standard bushel of a crop.

    Raises
    ------
    InputError
        Its weight isn't known.
    """
    try:
        return TEST_WEIGHT_LB[crop]
    except KeyError:
        known = ", ".join(TEST_WEIGHT_LB)
        raise InputError(
            f"the weight of a bushel of {crop!r} isn't known (known: {known}); "
            "give the yield in t/ha or lb/ac of a known crop"
        ) from None
