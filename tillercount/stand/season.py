"""What the weather of this spring says: growth, green-up, first nitrogen, jointing, tillers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from tillercount.errors import InputError
from tillercount.stand.growth import (
    BASE_F,
    FIRST_N_SOURCE,
    GREEN_UP_SOURCE,
    WAYS,
    Jointing,
    NoDate,
    first_nitrogen,
    green_up,
    growing_now,
    jointing_dates,
    running_sum,
)
from tillercount.stand.leaves import ShootsExpected, count_hint, shoots_from_degree_days
from tillercount.stand.weather import Weather

__all__ = ["Season", "look_at_season"]

_STATES_FIGURE = "US states' sums of warmth don't hold for your country"
_BY_EYE = "once the crop grows, split a few stems every week"


@dataclass(frozen=True)
class Season:
    """This spring by its daily temperatures.

    Attributes
    ----------
    today : date
        The last day on file.
    since_new_year_f : tuple of (way, °F-days), or None
        None where days are missing.
    growing : bool or None
        Whether the last week had any growth.
    green_up : date or None
        7 days of growth in a row were complete.
    first_n : (date or None, date or None) or NoDate
    jointing : Jointing or NoDate
    expected : ShootsExpected or None
        Shoots for each plant by the days since sowing; None without a date of sowing.
    hint : str
        Where the count is out of that range.
    """

    today: dt.date
    since_new_year_f: tuple[tuple[str, float], ...] | None
    growing: bool | None
    green_up: dt.date | None
    first_n: tuple[dt.date | None, dt.date | None] | NoDate
    jointing: Jointing | NoDate
    expected: ShootsExpected | None = None
    hint: str = ""
    notes: tuple[str, ...] = ()

    @property
    def started(self) -> bool:
        """Whether the warmth at which crops can use first nitrogen has come, and the last week
        wasn't without growth.
        """
        warm = isinstance(self.first_n, tuple) and self.first_n[0] is not None
        return warm and self.growing is True

    def without_us_figures(self) -> Season:
        """The same without the dates that rest on sums of warmth, or days of it, of a US state."""
        first_n, jointing = self.first_n, self.jointing
        if isinstance(first_n, tuple):
            first_n = NoDate(_STATES_FIGURE, _BY_EYE)
        if isinstance(jointing, Jointing) and jointing.doubt:
            jointing = NoDate(_STATES_FIGURE, _BY_EYE)
        elif isinstance(jointing, NoDate) and jointing.so_far_f is not None:
            jointing = NoDate(_STATES_FIGURE, _BY_EYE)  # its sum is the same figure's
        return replace(self, green_up=None, first_n=first_n, jointing=jointing)

    def lines(self, *, jointed: bool = False) -> Iterator[str]:
        """Sentences for a page, each with its source; of a crop that has ``jointed`` none of when
        it greens up and joints."""
        if self.since_new_year_f is not None:
            sums = "; ".join(f"{s:,.0f} ({s / 1.8:,.0f}) {way}" for way, s in self.since_new_year_f)
            yield (
                f"Growing degree days from 1 January to {self.today}, °F-days above {BASE_F:g} °F "
                f"(°C-days above 0 °C): {sums}."
            )
        if self.growing is False:
            yield "No growth in the last week on file."
        if self.green_up is not None and not jointed:
            yield f"Green-up by the weather: {self.green_up} ({GREEN_UP_SOURCE})."
        if isinstance(self.first_n, tuple):
            yield f"{_first_n(self.first_n)} ({FIRST_N_SOURCE})."
        if jointed:
            pass
        elif isinstance(self.jointing, Jointing):
            words = self.jointing.words
            yield f"{words[0].upper()}{words[1:]} ({self.jointing.source})."
        else:
            yield f"Jointing: no date. {self.jointing.reason}; {self.jointing.todo}."
        if self.expected is not None:
            yield f"By the days since sowing: {self.expected.words} ({self.expected.source})."
        if self.hint:
            yield f"The count is off: {self.hint}."
        yield from self.notes

    def to_json(self) -> dict[str, Any]:
        """Everything as plain values."""
        joint = self.jointing
        return {
            "today": str(self.today),
            "degree_days_f": dict(self.since_new_year_f) if self.since_new_year_f else None,
            "growing": self.growing,
            "green_up": _text(self.green_up),
            "first_nitrogen": (
                [_text(day) for day in self.first_n] if isinstance(self.first_n, tuple) else None
            ),
            "growth_started": self.started,
            "jointing": {
                "first": str(joint.first),
                "last": str(joint.last),
                "middle": str(joint.middle),
                "years": joint.years,
                "target_f": joint.target_f,
                "by_way": [[way, str(a), str(b)] for way, a, b in joint.by_way],
                "source": joint.source,
                "doubt": joint.doubt,
            }
            if isinstance(joint, Jointing)
            else {"reason": joint.reason, "todo": joint.todo},
            "shoots_per_plant_expected": list(self.expected.shoots) if self.expected else None,
            "leaves_expected": list(self.expected.leaves) if self.expected else None,
            "hint": self.hint or None,
            "lines": list(self.lines()),
        }


def _text(day: dt.date | None) -> str | None:
    return None if day is None else str(day)


def _first_n(dates: tuple[dt.date | None, dt.date | None]) -> str:
    early, late = dates
    if early is None:
        return "The degree-days at which crops can use first nitrogen aren't reached yet"
    if late is None:
        return f"Crops may have been able to use first nitrogen since {early}"
    if early == late:
        return f"Crops can use first nitrogen since {early}"
    return f"Crops can use first nitrogen since {early} to {late}"


def look_at_season(
    weather: Weather,
    *,
    sown: dt.date | None = None,
    shoots_per_plant: float | None = None,
) -> Season:
    """What the days on file say; the last one is taken for today.

    Raises
    ------
    InputError
        Sown after the last day on file, or a year and more before it.
    """
    today = weather.last
    start = dt.date(today.year, 1, 1)
    sums = None
    if weather.covers(start, today):
        days = weather.between(start, today)
        sums = tuple((str(way), running_sum(days, way)[-1]) for way in WAYS)
    expected, hint, notes = None, "", list(weather.notes)
    if sown is not None:
        if not 0 <= (today - sown).days <= 365:
            raise InputError(
                f"sown {sown} doesn't go with days up to {today}; give the date of sowing of this "
                "crop"
            )
        if weather.covers(sown, today):
            since = weather.between(sown, today)
            totals = [running_sum(since, way)[-1] for way in WAYS]
            try:
                low, high = (shoots_from_degree_days(total) for total in sorted(totals))
                expected = ShootsExpected(
                    (low.leaves[0], high.leaves[1]), (low.shoots[0], high.shoots[1]), low.source
                )
            except InputError as error:
                notes.append(f"Shoots by the days since sowing: {error}.")
            if expected is not None and shoots_per_plant is not None:
                hint = count_hint(shoots_per_plant, expected)
        else:
            notes.append(
                f"{weather.source} doesn't hold every day since sowing ({sown}), so shoots can't "
                "be held against the warmth; add the missing days."
            )
    return Season(
        today,
        sums,
        growing_now(weather),
        green_up(weather, today.year),
        first_nitrogen(weather, today.year),
        jointing_dates(weather),
        expected,
        hint,
        tuple(notes),
    )
