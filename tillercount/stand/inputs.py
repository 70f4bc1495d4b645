"""What people type about an application: temperatures, dates, products, prices, weeds."""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from collections.abc import Collection, Sequence

from tillercount.days import day_typed, has_year
from tillercount.errors import InputError
from tillercount.stand.products import Price, Product, parse_price, product
from tillercount.stand.spreading import GROUNDS, NOZZLES, Conditions, Ground, Nozzle
from tillercount.stand.weeds import MOST_PER_M2, WeedLoss, weed_loss
from tillercount.typed import ask_of_pair
from tillercount.units import density_per_m2, number, per_ft2

__all__ = ["air_f", "conditions", "date_of", "dear", "weed_of", "which_product"]

which_product = product


def air_f(text: str) -> float:
    """°F of a temperature as typed: ``55 F``, ``12 °C``.

    Raises
    ------
    InputError
        No scale, a comma that may part two numbers, or no temperature of air.
    """
    match = re.fullmatch(r"(.+?)\s*°?\s*([FfCc])", text.strip())
    if match is None:
        raise InputError(f"temperature {text!r} has no scale; write it like '55 F' or '12 C'")
    ask_of_pair(text, what="temperature")
    value = number(match[1], what="temperature")
    fahrenheit = value if match[2].upper() == "F" else value * 1.8 + 32.0
    if not -60 <= fahrenheit <= 130:
        raise InputError(f"temperature {text!r} isn't one of air; check the number and its scale")
    return fahrenheit


def date_of(
    text: str,
    today: dt.date | None = None,
    near: Collection[dt.date] = (),
    *,
    what: str = "date",
) -> dt.date:
    """A date as typed: ISO 8601, or with the month's name.

    One without a year is read where ``today`` is given: by days ``near`` which clocks say, else the
    latest such day up to today (`tillercount.days.day_named`).

    Raises
    ------
    InputError
        Anything else, or a weekday that doesn't go with the day.
    """
    with contextlib.suppress(ValueError):
        return dt.date.fromisoformat(text.strip())
    if today is None and not has_year(text):
        raise InputError(f"{what} {text!r} can't be read; write it like 2025-10-05")
    return day_typed(text, today or dt.date.today(), what=what, near=near)


def conditions(
    nozzle: str | None,
    air: float | None,
    wet: bool | None,
    windy: bool | None,
    herbicide: bool | None,
    ground: str | None,
) -> Conditions:
    """Conditions at work from what was typed.

    Raises
    ------
    InputError
        A nozzle or a state of the ground that isn't known.
    """
    kind: Nozzle | None = None
    if nozzle is not None:
        plain = " ".join(re.split(r"[\s_-]+", nozzle.strip().lower()))
        kind = next((one for one in NOZZLES if plain.rstrip("s") == one), None)
        if kind is None:
            raise InputError(f"nozzle {nozzle!r} isn't known; stream or flat-fan")
    state: Ground | None = None
    if ground is not None:
        state = next((one for one in GROUNDS if one == ground.strip().lower()), None)
        if state is None:
            raise InputError(f"ground {ground!r} isn't known; {', '.join(GROUNDS)}")
    return Conditions(kind, air, wet, windy, herbicide, state)


def dear(prices: Sequence[str], products: Sequence[Product]) -> dict[str, Price]:
    """Prices by product key; a price without a name is for the only product.

    Raises
    ------
    InputError
        No product, a nameless price for several, a product that wasn't chosen, two prices for one.
    """
    out: dict[str, Price] = {}
    for text in prices:
        name, equals, price = text.rpartition("=")
        if equals:
            of = product(name)
            if of not in products:
                raise InputError(f"price {text!r} is for {of.name}, which isn't a --product here")
        elif len(products) == 1:
            of = products[0]
        else:
            raise InputError(
                f"price {text!r}: say which product it is for, like uan28={text.strip()}"
                if products
                else f"price {text!r} needs a product; give --product NAME"
            )
        if of.key in out:
            raise InputError(f"two prices for {of.name}; give one")
        out[of.key] = parse_price(price)
        out[of.key].per_lb(of)  # what can't be used is said before anything is worked out
    return out


def weed_of(text: str) -> WeedLoss:
    """Loss in print for a weed as typed: ``henbit=40/m2``.

    Raises
    ------
    InputError
        No density, one that has no room, or a species without figures.
    """
    name, equals, density = text.partition("=")
    if not equals:
        raise InputError(f"weed {text!r} has no density; write it like henbit=40/m2")
    per_m2 = density_per_m2(density, what=f"{name.strip()} density")
    if per_m2 > MOST_PER_M2:
        unit = re.split(r"/|per", density)[-1]
        us = re.search(r"f(oo|ee)?t|ac|in|ya?r?d", unit, re.IGNORECASE)
        most = f"{per_ft2(MOST_PER_M2):.0f} per ft²" if us else f"{MOST_PER_M2:,.0f} per m²"
        raise InputError(
            f"{name.strip()} density {density.strip()!r} can't be: that is more than one weed on "
            f"every square centimetre ({most}); check the number and its unit"
        )
    return weed_loss(name, per_m2)
