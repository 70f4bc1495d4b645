"""The visits to a field one after the other, and what changed from one to the next."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from sqlalchemy import Connection, select

from tillercount.errors import InputError
from tillercount.field import FieldEstimate, SpotDensity
from tillercount.field.density import DensityEstimate, normal, pooled_df, student
from tillercount.positions import distance_m
from tillercount.store.dates import VisitDate, in_order, put_before, visit_dates
from tillercount.store.placing import WITHIN_M
from tillercount.store.read import summary
from tillercount.store.tables import visits
from tillercount.store.visits import Where, field_of, visit_of
from tillercount.store.ways import Way, ways_of

__all__ = ["Change", "History", "Visited", "change_at_spots", "change_between", "history"]

FEWEST_SHARED = 3
"""Spots counted at both visits from which their own change is said: two have an interval that says
nothing. A convention."""


@dataclass(frozen=True)
class Visited:
    """One visit: its name, when it was, and its means.

    ``estimate`` is None where nothing is counted, or where ``problem`` says why the counts can't be
    put together.
    """

    name: str
    date: VisitDate
    estimate: FieldEstimate | None
    problem: str = ""

    @property
    def counted(self) -> bool:
        """Whether something was counted at it, whatever came of that."""
        return self.estimate is not None or bool(self.problem)


@dataclass(frozen=True)
class Change:
    """Difference of two visits' means of ``what``, per m², with its interval at ``level``.

    ``spots``: on how many spots counted at both visits; 0 where the means are of different spots.
    """

    what: str
    mean: float
    low: float
    high: float
    level: float
    spots: int = 0

    @property
    def clear(self) -> bool:
        """Whether the interval leaves out that nothing changed."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True)
class History:
    """The visits to a field by their dates, the one meant, and what changed.

    Attributes
    ----------
    visits : tuple of Visited
    at : int
        Which of them is meant.
    since : str
        Name of the counted visit before it; "" without one.
    changes : tuple of Change
        Since then, for plants and shoots where both have them.
    same : tuple of Change
        The same on the spots that were counted at both visits, where there are enough.
    guessed : tuple of str
        Visits of unknown day that are taken to be before the one meant only because they were put
        in first (`tillercount.store.dates.put_before`).
    ways : (str, str) or None
        How either visit was counted, where that isn't alike: part of the changes may be that.
    """

    visits: tuple[Visited, ...]
    at: int
    since: str
    changes: tuple[Change, ...]
    same: tuple[Change, ...] = ()
    guessed: tuple[str, ...] = ()
    ways: tuple[Way, Way] | None = None

    @property
    def here(self) -> Visited:
        """The visit that is meant."""
        return self.visits[self.at]

    @property
    def is_last(self) -> bool:
        """Whether it is the last one, or only plans without counts come after it."""
        return not any(one.counted for one in self.visits[self.at + 1 :])

    @property
    def ahead(self) -> tuple[str, ...]:
        """Names of the visits after it at which nothing was counted yet."""
        return tuple(one.name for one in self.visits[self.at + 1 :] if not one.counted)


def history(connection: Connection, where: Where, *, level: float = 0.9) -> History:
    """The visits to a field, and what changed since the counted one before that of ``where``.

    Raises
    ------
    InputError
        No such field or visit.
    """
    field = field_of(connection, where)
    meant, _ = visit_of(connection, where)
    rows = connection.execute(
        select(visits.c.id, visits.c.name).where(visits.c.field_id == field)
    ).all()
    dates = visit_dates(connection, field)
    place = {visit: number for number, visit in enumerate(in_order(dates))}
    rows = sorted(rows, key=lambda row: place[row.id])
    found = []
    for row in rows:
        estimate, problem = None, ""
        try:
            at_visit = Where(where.farm, where.field, row.name)
            estimate = summary(connection, at_visit, level=level).estimate
        except InputError as error:  # of one visit, which mustn't hide the others
            problem = str(error)
        found.append(Visited(row.name, dates[row.id], estimate, problem))
    at = [row.id for row in rows].index(meant)
    earlier = [one for one in found[:at] if one.estimate is not None]
    now = found[at].estimate
    before_by_guess = put_before(dates, meant)
    guessed = tuple(row.name for row in rows if row.id in before_by_guess)
    if not earlier or now is None:
        return History(tuple(found), at, "", (), guessed=guessed)
    before = earlier[-1].estimate
    assert before is not None
    return History(
        tuple(found),
        at,
        earlier[-1].name,
        change_between(before, now),
        change_at_spots(before, now),
        guessed,
        ways_of(before, now),
    )


def change_at_spots(before: FieldEstimate, now: FieldEstimate) -> tuple[Change, ...]:
    """Mean change on the spots that both visits have, with a paired t interval.

    Two means of different spots differ by the spots as well; on the same ones that falls away. A
    spot is the same by its name, unless its positions lie too far apart for one place. The error
    that photos share is the same at both visits and goes by what it leaves in the difference.
    """
    out = []
    for what in ("plants", "shoots"):
        if what == "shoots" and before.definition is not now.definition:
            continue
        name = f"{what}_per_m2"
        old = {s.key: s for s in before.entered(what) if getattr(s, name) is not None}
        pairs = [
            (old[new.key], new)
            for new in now.entered(what)
            if getattr(new, name) is not None and new.key in old and _one_place(old[new.key], new)
        ]
        n = len(pairs)
        if n < FEWEST_SHARED:
            continue
        gaps = [getattr(new, name) - getattr(one, name) for one, new in pairs]
        mean = math.fsum(gaps) / n
        error = math.sqrt(math.fsum((gap - mean) ** 2 for gap in gaps) / (n - 1) / n)
        shared = (
            math.fsum(
                getattr(new, name) * getattr(new, f"{what}_bias_rel")
                - getattr(one, name) * getattr(one, f"{what}_bias_rel")
                for one, new in pairs
            )
            / n
        )
        upper = (1 + now.level) / 2
        half = math.hypot(student(upper, n - 1) * error, normal(upper) * shared)
        out.append(Change(what, mean, mean - half, mean + half, now.level, n))
    return tuple(out)


def _one_place(one: SpotDensity, other: SpotDensity) -> bool:
    if one.lat is None or one.lon is None or other.lat is None or other.lon is None:
        return True
    there = np.array([other.lat]), np.array([other.lon])
    return bool(distance_m(one.lat, one.lon, *there)[0] <= WITHIN_M)


def change_between(before: FieldEstimate, now: FieldEstimate) -> tuple[Change, ...]:
    """Differences of the means of two visits.

    Spots are drawn anew or found again only roughly, so the two means are taken as independent:
    the squares of how far their intervals reach add up (Zou & Donner 2008, Statistics in Medicine
    27:1693-1702; from memory). Where both have but a t interval (pairs, zones) their variances do,
    with Welch's degrees of freedom (Welch 1947, Biometrika 34:28-35; from memory). The error that
    all photos share is then counted in both, though part of it is the same and cancels: the
    interval is rather too wide than too narrow.
    """
    changes = []
    for what in ("plants", "shoots"):
        one: DensityEstimate | None = getattr(before, what)
        two: DensityEstimate | None = getattr(now, what)
        if one is None or two is None:
            continue
        if what == "shoots" and before.definition is not now.definition:
            continue
        mean = two.mean - one.mean
        if one.scatter and two.scatter and one.ratio is None and two.ratio is None:
            df = pooled_df((one.scale**2, one.df), (two.scale**2, two.df))
            down = up = student((1 + now.level) / 2, df) * math.hypot(one.scale, two.scale)
        else:
            down = math.hypot(two.mean - two.low, one.high - one.mean)
            up = math.hypot(two.high - two.mean, one.mean - one.low)
        changes.append(Change(what, mean, mean - down, mean + up, now.level))
    return tuple(changes)
