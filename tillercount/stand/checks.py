"""Green-up and winter survival: when to judge, how to look, and when to come again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tillercount.stand.cautions import Advice
from tillercount.twoforms import CHECK_DATE, CHECK_DATE_AND_WEATHER

if TYPE_CHECKING:
    from tillercount.stand.season import Season

__all__ = ["GREEN_UP", "WINTER_SURVIVAL", "Revisit", "photo_days", "revisit", "visit_doubts"]

GREEN_UP: tuple[Advice, ...] = (
    Advice(
        "Green-up has come when 7 days in a row had growing degree days.",
        "Michigan State University 2022",
    ),
    Advice(
        "Judge the stand after 10 to 14 days of warm growth, or at least 3 days above 15 °C "
        "(59 °F), and rather later than sooner.",
        "Ohio State University 2013; an Ontario adviser",
    ),
    Advice(
        "The first green flush doesn't prove survival, and brown leaves don't mean dead plants.",
        "Michigan State University",
    ),
)

WINTER_SURVIVAL: tuple[Advice, ...] = (
    Advice(
        "Dig plants and cut the crown lengthwise: white, yellow-white or light green is alive; "
        "tan to brown and soft is dead.",
        "University of Minnesota 2011",
    ),
    Advice(
        "In doubt, trim plants to 1/4 to 1/2 in either side of the crown, lay them on a wet towel "
        "in a closed bag at room temperature: living crowns grow again within 48 hours.",
        "University of Minnesota 2018",
    ),
    Advice(
        "Or put plants in a pot or a moist bag for 4 to 5 days, and look for new white roots.",
        "Michigan State University",
    ),
    Advice("Look first at late-sown fields: they heave most.", "Ohio State University 2013"),
)

_DAY, _WEEK = dt.timedelta(1), dt.timedelta(7)

FAR_DAYS = 14
"""A visit further than this from the last day of weather isn't of the same look at the field: a
convention of our own."""


@dataclass(frozen=True)
class Revisit:
    """When to look again, and why."""

    first: dt.date
    last: dt.date
    advice: Advice

    @property
    def line(self) -> str:
        """The reminder in one line."""
        return f"Look again between {self.first} and {self.last}: {self.advice.line}"


def revisit(seen: dt.date, *, pushed: bool = False) -> Revisit:
    """When to come again after a visit.

    Parameters
    ----------
    seen : date
        Of the visit.
    pushed : bool
        Whether early nitrogen was given to make tillers: the count again is then due in two to
        three weeks (common practice), else a look in one to two.
    """
    if pushed:
        why = Advice("count shoots again, to see whether the tillers came", "common practice")
        return Revisit(seen + 2 * _WEEK, seen + 3 * _WEEK, why)
    why = Advice("the first green doesn't prove survival", "Michigan State University")
    return Revisit(seen + _WEEK, seen + 2 * _WEEK, why)


def photo_days(visited: dt.date | None, taken: Sequence[str]) -> list[str]:
    """Where the date of the visit isn't what photos' own clocks say, by more than a day.

    A day is left for clocks of another time zone. Each photo is looked at by itself: those of two
    visits put together lie on both sides. ``taken`` are the photos' days, ISO 8601; what is none
    says nothing.
    """
    days = sorted(day for day in map(_day, taken) if day is not None)
    if visited is None:
        return []
    off = [day for day in days if abs(day - visited) > _DAY]
    if not off:
        return []
    few = len(off) < len(days)
    span = f"{off[0]}" if off[0] == off[-1] else f"{off[0]} to {off[-1]}"
    whose = "the photos' own clocks say" if len(days) > 1 else "the photo's own clock says"
    if few:
        are = "is" if len(off) == 1 else "are"
        whose = f"by their own clocks {len(off)} of {len(days)} photos {are} of"
    least, most = (end(abs((day - visited).days) for day in off) for end in (min, max))
    apart = f"{least}" if least == most else f"{least} to {most}"
    mixed = ", whether they are of one visit," if few or off[0] < visited < off[-1] else ""
    return [
        f"the visit is dated {visited}, but {whose} {span}, {apart} days apart; "
        f"{CHECK_DATE.screen}{mixed} and the date of the camera, since what is said of the season "
        "goes by the visit"
    ]


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text[:10])
    except ValueError:
        return None


def visit_doubts(
    visited: dt.date | None, season: Season | None, today: dt.date | None
) -> list[str]:
    """Where the date of the visit, or days of weather, don't go with the calendar or each other."""
    out = []
    if season is not None and today is not None and season.today > today:
        ahead = (season.today - today).days
        out.append(
            f"the weather file runs to {season.today}, {ahead} day{'s' if ahead > 1 else ''} after "
            f"today ({today}): what is said of growth then is still to come, a forecast at best; "
            "check its dates"
        )
    if visited is None:
        return out
    if today is not None and visited > today:
        out.append(f"the visit is dated {visited}, later than today ({today}); {CHECK_DATE.screen}")
    if season is not None and abs((season.today - visited).days) > FAR_DAYS:
        out.append(
            f"the visit is dated {visited}, but the weather file runs to {season.today}, "
            f"{abs((season.today - visited).days)} days apart; {CHECK_DATE_AND_WEATHER.screen}, "
            "since dates here go by the weather's last day"
        )
    return out
