"""Nitrogen that is already there, and what each publisher takes off for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tillercount.errors import InputError
from tillercount.stand.rates import MOST_KG_HA, MOST_LB_AC
from tillercount.stand.words import join, number_text, rate_text, span
from tillercount.units import KG_PER_HA_PER_LB_PER_ACRE

if TYPE_CHECKING:
    from tillercount.stand.ruleset import RuleSet
    from tillercount.stand.wholeparts import NitrogenCredit

__all__ = ["AlreadyThere", "Credit", "Range", "check_credits", "credits_for", "pounds"]

Range = tuple[float, float]
_MOST = max(MOST_LB_AC, MOST_KG_HA / KG_PER_HA_PER_LB_PER_ACRE)


@dataclass(frozen=True)
class AlreadyThere:
    """Nitrogen that the crop finds without spring fertiliser, as far as it is known.

    Attributes
    ----------
    fall_lb_ac, nitrate_lb_ac, manure_lb_ac : float or None
        Pounds of nitrogen per acre: put on in fall; nitrate in a soil sample; what manure makes
        available this season by its analysis.
    organic_matter_percent : float or None
    previous_crop : str
        As a person says it, like "soybeans".
    """

    fall_lb_ac: float | None = None
    nitrate_lb_ac: float | None = None
    manure_lb_ac: float | None = None
    organic_matter_percent: float | None = None
    previous_crop: str = ""

    def __post_init__(self) -> None:
        for name in ("fall_lb_ac", "nitrate_lb_ac", "manure_lb_ac"):
            value = getattr(self, name)
            if value is not None and not 0 <= value <= _MOST:
                raise InputError(
                    f"{name.removesuffix('_lb_ac')} nitrogen of {value:g} lb/ac can't be right; "
                    f"give pounds of nitrogen per acre, 0 to {MOST_LB_AC:g}"
                )
        percent = self.organic_matter_percent
        if percent is not None and not 0 <= percent <= 20:
            raise InputError(
                f"organic matter of {percent:g} % isn't a mineral soil's; give percent, like 2.5"
            )

    @property
    def any(self) -> bool:
        """Whether anything is known."""
        return self != AlreadyThere()


@dataclass(frozen=True)
class Credit:
    """Pounds of nitrogen per acre taken off (below 0: added), and who says so."""

    what: str
    lb_ac: Range
    source: str


def pounds(ends: Range) -> str:
    """Two ends without false digits: "88-120"."""
    low, high = (number_text(end) if end else "0" for end in ends)
    return low if low == high else f"{low}-{high}"


_MEANT = {
    "fall nitrogen": "this is nitrogen, per acre or hectare, and not the weight of fertilizer",
    "soil nitrate": "this is nitrogen, per acre or hectare, and not nitrate itself, which weighs "
    "4.4 times as much",  # NO3 to N, 62 to 14
    "manure": "this is the nitrogen that it makes available this season, per acre or hectare, and "
    "not the weight of the manure",
}
"""What is meant by each, and what it is easily taken for (common practice)."""


def check_credits(there: AlreadyThere, gross: Range) -> list[str]:
    """What to check where more is said to be there than the whole, by one of these or all."""
    known = {
        what: lb
        for what, lb in (
            ("fall nitrogen", there.fall_lb_ac),
            ("soil nitrate", there.nitrate_lb_ac),
            ("manure", there.manure_lb_ac),
        )
        if lb
    }
    whole = f"more than the whole of {rate_text(gross)} lb N/ac"
    out = [
        f"{rate_text((lb, lb))} lb N/ac of {what} is {whole}: check that {_MEANT[what]}"
        for what, lb in known.items()
        if lb > gross[1]
    ]
    both = sum(known.values())
    if both > gross[1] and not out:
        named = join([f"{rate_text((lb, lb))} lb N/ac of {what}" for what, lb in known.items()])
        out.append(
            f"{rate_text((both, both))} lb N/ac said to be there already ({named}) are {whole}: "
            "check each, and that none is counted twice"
        )
    return out


_TRADE = "common practice; the chosen publisher names no such credit in the part that was read"


def credits_for(giver: RuleSet, there: AlreadyThere) -> tuple[list[Credit], list[str], list[str]]:
    """What a publisher takes off; then the arithmetic in lines, and what to mind."""
    out: list[Credit] = []
    lines: list[str] = []
    flags: list[str] = []
    printed: dict[str, NitrogenCredit] = {
        row.what: row for row in giver.nitrogen_credits if row.what != "previous crop"
    }
    by_id = {source.id: source.text for source in giver.sources}

    def source(row: NitrogenCredit) -> str:
        cited = "; ".join(by_id[one] for one in row.sources if one in by_id)
        mark = row.mark or giver.mark
        return cited or (giver.publisher if mark == "seen" else f"{giver.publisher}, {mark}")

    for what, lb in (
        ("fall nitrogen", there.fall_lb_ac),
        ("soil nitrate", there.nitrate_lb_ac),
        ("manure", there.manure_lb_ac),
    ):
        if lb is None:
            continue
        row = printed.get(what)
        taken, words = lb, f"{lb:g} lb N/ac"
        if row is not None and row.at_most_lb is not None and lb > row.at_most_lb:
            taken, words = row.at_most_lb, f"{lb:g} lb N/ac, of which {row.at_most_lb:g} count"
        out.append(Credit(what, (taken, taken), source(row) if row else _TRADE))
        lines.append(f"less {what}: {words} ({out[-1].source})")
    percent = there.organic_matter_percent
    if percent is not None:
        row = printed.get("organic matter")
        if row is None or row.lb_per_percent is None:
            flags.append(
                f"nothing is taken off for organic matter: {giver.by} names no credit for it"
            )
        else:
            low, high = (percent * each for each in row.lb_per_percent)
            out.append(Credit("organic matter", (low, high), source(row)))
            lines.append(
                f"less organic matter: {percent:g} % x {span(row.lb_per_percent)} lb = "
                f"{pounds((low, high))} lb N/ac ({source(row)})"
            )
    if there.previous_crop:
        crop = " ".join(there.previous_crop.lower().split())
        rows = [r for r in giver.nitrogen_credits if r.what == "previous crop" and r.after == crop]
        if rows and rows[0].lb is not None:
            out.append(Credit(f"after {crop}", rows[0].lb, source(rows[0])))
            more = -rows[0].lb[1]
            said = f"more after {crop}: {more:g}" if more > 0 else f"less after {crop}: {-more:g}"
            lines.append(f"{said} lb N/ac ({source(rows[0])})")
        else:
            flags.append(f"nothing is taken off after {crop}: {giver.by} names no credit for it")
    return out, lines, flags
