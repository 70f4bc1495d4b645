"""Fertiliser products: nitrogen, density, and how much of one makes so many pounds of nitrogen."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tillercount.errors import InputError
from tillercount.units import KG_PER_HA_PER_LB_PER_ACRE, KG_PER_LB, M2_PER_ACRE, number

__all__ = [
    "L_PER_GAL",
    "PRODUCTS",
    "Amount",
    "Price",
    "Product",
    "amount",
    "parse_price",
    "product",
]

L_PER_GAL = 3.785411784
"""US gallon, exact: 231 cubic inches of 2.54³ cm³."""
LB_PER_SHORT_TON = 2000.0
_AC_PER_HA = 10_000.0 / M2_PER_ACRE

_FLUIDS = "fluid fertiliser properties sheet; other pages give"
_MEMORY = "from memory"


@dataclass(frozen=True)
class Product:
    """One product.

    Attributes
    ----------
    key, name : str
        For the command line, and as a person says it.
    n, s : float
        Share of weight that is nitrogen, and sulphur.
    lb_per_gal : float or None
        None for a dry one.
    n_source, density_source : str
    salt_out_f : float or None
        Temperature at which crystals fall out, °F, where one was read.
    kind : {"UAN", "ATS", "urea", "ammonium sulfate"}
    """

    key: str
    name: str
    n: float
    n_source: str
    kind: str
    s: float = 0.0
    lb_per_gal: float | None = None
    density_source: str = ""
    salt_out_f: float | None = None
    salt_source: str = ""

    @property
    def lb_n_per_gal(self) -> float | None:
        """Pounds of nitrogen in a gallon; None for a dry product."""
        return None if self.lb_per_gal is None else self.n * self.lb_per_gal

    @property
    def facts(self) -> str:
        """Nitrogen and density in words, each with its source."""
        text = f"{self.name}: {100 * self.n:g} % N ({self.n_source})"
        if self.lb_per_gal is not None and self.lb_n_per_gal is not None:
            text += (
                f"; {self.lb_per_gal:g} lb per gallon ({self.density_source}), so "
                f"{self.lb_n_per_gal:.4g} lb N per gallon"
            )
        elif self.density_source:
            text += f"; dry, {self.density_source}"
        if self.s:
            text += f"; {100 * self.s:g} % S"
        return text


PRODUCTS: dict[str, Product] = {
    one.key: one
    for one in (
        Product(
            "urea", "urea", 0.46, _MEMORY, "urea",
            density_source="44-48 lb per cubic foot: fluid fertiliser properties sheet",
        ),
        Product(
            "uan28", "UAN 28", 0.28, "its name", "UAN", lb_per_gal=10.67,
            density_source=f"{_FLUIDS} 10.5 to 10.85", salt_out_f=-1.0,
            salt_source="fluid fertiliser properties sheet",
        ),
        Product(
            "uan30", "UAN 30", 0.30, "its name", "UAN", lb_per_gal=10.86, density_source=_MEMORY,
        ),
        Product(
            "uan32", "UAN 32", 0.32, "its name", "UAN", lb_per_gal=11.06,
            density_source=f"{_FLUIDS} 11.05 to 11.08", salt_out_f=28.0,
            salt_source="fluid fertiliser properties sheet; another page has 32 °F",
        ),
        Product(
            "ams", "ammonium sulfate 21-0-0-24S", 0.21, _MEMORY, "ammonium sulfate", s=0.24,
        ),
        Product(
            "ats", "ammonium thiosulfate 12-0-0-26S", 0.12,
            "fluid fertiliser properties sheet", "ATS", s=0.26, lb_per_gal=11.04,
            density_source="fluid fertiliser properties sheet",
        ),
    )
}  # fmt: skip

_OTHER_NAMES = {
    "uan": "", "28": "uan28", "30": "uan30", "32": "uan32", "28%": "uan28", "30%": "uan30",
    "32%": "uan32", "ammoniumsulfate": "ams", "ammoniumsulphate": "ams", "as": "ams",
    "ammoniumthiosulfate": "ats", "ammoniumthiosulphate": "ats", "46-0-0": "urea",
    "28-0-0": "uan28", "30-0-0": "uan30", "32-0-0": "uan32", "21-0-0-24s": "ams",
    "12-0-0-26s": "ats", "21-0-0": "ams",
}  # fmt: skip


def product(text: str) -> Product:
    """A product by its name: ``urea``, ``UAN 28``, ``28-0-0``, ``ammonium sulfate``, ``ATS``.

    Raises
    ------
    InputError
        Not known, or UAN without its strength.
    """
    key = "".join(text.lower().split()).replace("uan-", "uan")
    key = _OTHER_NAMES.get(key, key)
    if key in PRODUCTS:
        return PRODUCTS[key]
    known = ", ".join(PRODUCTS)
    if not key:
        raise InputError(f"product {text!r}: say which strength; uan28, uan30 or uan32")
    raise InputError(f"product {text!r} isn't known; known: {known}")


@dataclass(frozen=True)
class Price:
    """A price as typed, in any one currency, for a pound of product or for a gallon."""

    value: float
    unit: str
    text: str

    def per_lb(self, of: Product) -> float:
        """Price of one pound of product."""
        if self.unit in ("gal", "L"):
            if of.lb_per_gal is None:
                raise InputError(f"price {self.text!r}: {of.name} is dry; give it per ton or lb")
            per_gal = self.value if self.unit == "gal" else self.value * L_PER_GAL
            return per_gal / of.lb_per_gal
        pounds = {"lb": 1.0, "ton": LB_PER_SHORT_TON, "t": 1000 / KG_PER_LB, "kg": 1 / KG_PER_LB}
        if self.unit == "lb N":
            return self.value * of.n
        return self.value / pounds[self.unit]


_PRICE_UNITS = {
    "ton": "ton", "tons": "ton", "shortton": "ton", "t": "t", "tonne": "t", "tonnes": "t",
    "mt": "t", "lb": "lb", "lbs": "lb", "pound": "lb", "kg": "kg", "gal": "gal", "gallon": "gal",
    "l": "L", "litre": "L", "liter": "L", "lbn": "lb N",
}  # fmt: skip


def parse_price(text: str) -> Price:
    """A price as typed: ``420/ton`` (2,000 lb), ``$1.55/gal``, ``400/t`` (1,000 kg), ``0.60/lb N``.

    Raises
    ------
    InputError
        No unit, an unknown one, or not above zero.
    """
    hint = "write it like 420/ton, 1.55/gal, 400/t (1,000 kg) or 0.60/lb N"
    amount_text, slash, unit_text = text.replace(" per ", "/").partition("/")
    unit = _PRICE_UNITS.get("".join(unit_text.lower().split()).rstrip("."))
    if not slash or unit is None:
        raise InputError(f"price {text.strip()!r} has no unit that is known; {hint}")
    bare = amount_text.strip().lstrip("$€£").strip()
    for currency in ("USD", "usd", "EUR", "GBP"):
        bare = bare.removesuffix(currency).strip()
    value = number(bare, what="price")
    if not value > 0:
        raise InputError(f"price {text.strip()!r} must be above zero; {hint}")
    return Price(value, unit, text.strip())


@dataclass(frozen=True)
class Amount:
    """How much of a product makes a dose of nitrogen; per acre, per hectare, and for a field.

    ``gal_ac`` and ``l_ha`` are None for dry products; ``cost_ac`` without a price; the ``field_``
    values without the field's area. ``priced`` is the unit of the price.
    """

    product: Product
    lb_n_ac: float
    lb_ac: float
    kg_ha: float
    gal_ac: float | None
    l_ha: float | None
    lb_s_ac: float
    cost_ac: float | None
    field_lb: float | None
    field_gal: float | None
    field_cost: float | None
    arithmetic: tuple[str, ...]
    priced: str = ""

    @property
    def cost_ha(self) -> float | None:
        """Cost per hectare."""
        return None if self.cost_ac is None else self.cost_ac * _AC_PER_HA

    @property
    def kg_s_ha(self) -> float:
        """Kilograms of sulphur per hectare."""
        return self.lb_s_ac * KG_PER_HA_PER_LB_PER_ACRE

    @property
    def field_kg(self) -> float | None:
        """Kilograms for the field."""
        return None if self.field_lb is None else self.field_lb * KG_PER_LB

    @property
    def field_l(self) -> float | None:
        """Litres for the field."""
        return None if self.field_gal is None else self.field_gal * L_PER_GAL


def amount(
    lb_n_ac: float, of: Product, *, price: Price | None = None, area_m2: float | None = None
) -> Amount:
    """Product for so many pounds of nitrogen per acre.

    Parameters
    ----------
    lb_n_ac : float
        Pounds of nitrogen per acre, 0 or more.
    price : Price, optional
    area_m2 : float, optional
        Of the field, for the load.

    Raises
    ------
    InputError
        Below zero, or a price per gallon of a dry product.
    """
    if not (lb_n_ac >= 0 and math.isfinite(lb_n_ac)):
        raise InputError(f"{lb_n_ac:g} lb N/ac isn't a rate; give 0 or more")
    lb = lb_n_ac / of.n
    lines = [f"{lb_n_ac:.4g} lb N / {of.n:g} = {lb:.4g} lb of {of.name} per acre"]
    gallons = None
    if of.lb_per_gal is not None:
        gallons = lb / of.lb_per_gal
        lines.append(f"{lb:.4g} lb / {of.lb_per_gal:g} lb per gallon = {gallons:.4g} gal per acre")
    cost = None
    if price is not None:
        cost = lb * price.per_lb(of)
        lines.append(f"at {price.text}: {cost:.2f} per acre before rounding")
    acres = None if area_m2 is None else area_m2 / M2_PER_ACRE
    if acres is not None:
        lines.append(f"times {acres:.4g} ac: {lb * acres:,.0f} lb for the field")
    return Amount(
        of,
        lb_n_ac,
        lb,
        lb * KG_PER_HA_PER_LB_PER_ACRE,
        gallons,
        None if gallons is None else gallons * L_PER_GAL * _AC_PER_HA,
        lb * of.s,
        cost,
        None if acres is None else lb * acres,
        None if acres is None or gallons is None else gallons * acres,
        None if acres is None or cost is None else cost * acres,
        tuple(lines),
        "" if price is None else price.unit,
    )
