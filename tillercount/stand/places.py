"""Where states, provinces and countries lie that grow small grains, whether or not they have rules
of their own here."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

__all__ = ["PLACES", "TOO_WIDE", "Place", "country_of_place", "place_named"]

Country = Literal["US", "Canada", "elsewhere"]


@dataclass(frozen=True)
class Place:
    """Name, and roughly the middle of where its grain grows, degrees; its country."""

    name: str
    lat: float
    lon: float
    country: Country = "elsewhere"


_STATES = """
AL Alabama 33 -87; AK Alaska 64 -148; AZ Arizona 33 -112; AR Arkansas 35 -91; CA California 37 -120;
CO Colorado 40 -103; CT Connecticut 42 -73; DE Delaware 39 -75; FL Florida 30 -84;
GA Georgia 32 -83; ID Idaho 45 -115; IL Illinois 40 -89; IN Indiana 40 -86; IA Iowa 42 -93;
KS Kansas 38 -98; KY Kentucky 37 -87; LA Louisiana 32 -92; ME Maine 46 -69; MD Maryland 39 -76;
MA Massachusetts 42 -72; MI Michigan 43 -84; MN Minnesota 46 -95; MS Mississippi 33 -90;
MO Missouri 38 -92; MT Montana 48 -110; NE Nebraska 41 -100; NV Nevada 40 -117;
NH New Hampshire 43 -72; NJ New Jersey 40 -75; NM New Mexico 35 -104; NY New York 43 -77;
NC North Carolina 35 -79; ND North Dakota 47 -100; OH Ohio 40 -83; OK Oklahoma 36 -98;
OR Oregon 45 -119; PA Pennsylvania 40 -77; RI Rhode Island 42 -72; SC South Carolina 34 -81;
SD South Dakota 44 -100; TN Tennessee 36 -87; TX Texas 33 -99; UT Utah 41 -112; VT Vermont 44 -73;
VA Virginia 37 -78; WA Washington 47 -118; WV West Virginia 39 -80; WI Wisconsin 44 -89;
WY Wyoming 42 -105; AB Alberta 52 -113; BC British Columbia 54 -121; MB Manitoba 50 -98;
NB New Brunswick 46 -66; NS Nova Scotia 45 -63; ON Ontario 43 -81; PE Prince Edward Island 46 -63;
QC Quebec 46 -73; SK Saskatchewan 51 -106
"""
_COUNTRIES = """
Argentina -35 -61; Australia -33 147; Austria 48 16; Belgium 51 5; Brazil -28 -53; Bulgaria 43 26;
Chile -38 -72; China 35 115; Croatia 45 17; Czechia 50 15; Denmark 56 10; Egypt 30 31;
Estonia 59 26; Finland 61 24; France 48 2; Germany 51 10; Greece 40 22; Hungary 47 20; India 28 77;
Iran 35 49; Ireland 53 -7; Italy 44 11; Japan 43 142; Kazakhstan 52 70; Latvia 57 24;
Lithuania 55 24; Mexico 27 -109; Morocco 33 -7; Netherlands 52 5; New South Wales -33 148;
New Zealand -44 172; Northern Ireland 55 -7; Norway 60 11; Pakistan 31 72; Poland 52 19;
Portugal 39 -8; Queensland -27 151; Romania 45 26; Russia 52 41; Serbia 45 20; Slovakia 48 18;
South Africa -33 19; South Australia -34 138; Spain 41 -4; Sweden 58 14; Switzerland 47 7;
Turkey 39 33; Ukraine 49 32; United Kingdom 52 -1; Uruguay -33 -57; Victoria -36 143;
Western Australia -32 118
"""
"""Whole degrees, from memory: they say which rules are near by, not where a border runs."""
_CANADA = frozenset({"AB", "BC", "MB", "NB", "NS", "ON", "PE", "QC", "SK"})
_SAID: dict[str, Country] = {
    "us": "US", "usa": "US", "united states": "US", "canada": "Canada", "uk": "elsewhere",
    "england": "elsewhere", "scotland": "elsewhere", "wales": "elsewhere",
    "great britain": "elsewhere", "europe": "elsewhere", "new england": "US",
}  # fmt: skip
"""Countries that have no entry of their own above, in small letters."""
_COUNTRY_GEORGIA = re.compile(r"\bgeorgia \(?country\b|\brepublic of georgia\b")


def _read() -> dict[str, Place]:
    found = {}
    for text, short in ((_COUNTRIES, False), (_STATES, True)):
        for entry in text.split(";"):
            *words, lat, lon = entry.split()
            country: Country = "elsewhere"
            if short:
                country = "Canada" if words[0] in _CANADA else "US"
            place = Place(" ".join(words[short:]), float(lat), float(lon), country)
            found[place.name.casefold()] = place
            if short:
                found[words[0].casefold()] = place
    return found


PLACES = _read()
"""By their names and, in North America, their two letters, in small letters."""
TOO_WIDE = frozenset({"us", "usa", "u.s.", "u.s.a.", "united states", "america", "north america"})
"""Regions for which nobody publishes limits, in small letters."""


def place_named(text: str) -> Place | None:
    """The place of this name or of these two letters; None where it isn't in the list."""
    return PLACES.get(" ".join(text.split()).casefold())


def country_of_place(text: str) -> Country | Literal[""]:
    """The country that a text like "Ontario, Canada" or "US Mid-South" names; "" where none.

    Two letters alone are a state's only where they are all of it: "in" is no Indiana. A state or
    province goes before a country, whose name many of its towns have ("Norway, Maine"); Georgia is
    the country where the text says so.
    """
    whole = " ".join(text.split()).casefold()
    words = re.findall(r"[^\W\d_]+(?:-[^\W\d_]+)*", whole)
    parts = [
        " ".join(words[at : at + many])
        for many in (3, 2, 1)
        for at in range(len(words) - many + 1)
    ]
    found: list[Country] = []
    for part in (whole, *parts):
        if part in _SAID:
            found.append(_SAID[part])
        elif part in PLACES and (len(part) > 2 or part == whole):
            if PLACES[part].country != "elsewhere" and not _COUNTRY_GEORGIA.search(whole):
                return PLACES[part].country
            found.append(PLACES[part].country)
    return "elsewhere" if _COUNTRY_GEORGIA.search(whole) else next(iter(found), "")
