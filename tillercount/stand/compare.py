"""All rule sets that fit a field, side by side: never mixed, never averaged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from tillercount.area import Area
from tillercount.errors import InputError
from tillercount.field.apart import several_fields
from tillercount.field.contradiction import contradictions
from tillercount.field.copies import one_of_each
from tillercount.field.estimate import estimate_field
from tillercount.field.oddrecords import areas_line
from tillercount.field.rowdoubt import with_drill
from tillercount.field.sources import collect
from tillercount.stand.comparison import Compared, Comparison, LeftOut
from tillercount.stand.crops import crop_name, not_validated
from tillercount.stand.judge import Judged, judge, with_example
from tillercount.stand.library import list_rules, load_rules, region_meant
from tillercount.stand.local import Local
from tillercount.stand.nearby import DECIDES, none_for
from tillercount.stand.places import TOO_WIDE, place_named
from tillercount.stand.rowluck import luck_of
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage, parse_stage
from tillercount.stand.warn import (
    counts_warnings,
    other_photo_flags,
    rule_warnings,
    without_told,
)
from tillercount.stand.words import join, refused_line
from tillercount.units import MM_PER_IN

__all__ = ["compare"]


def compare(
    counts: Any,
    *,
    crop: str = "wheat",
    region: str = "",
    stage: str | Stage | None = None,
    rules: Sequence[str | Path | RuleSet] = (),
    insist: bool = False,
    local: Local | None = None,
    area: Area | None = None,
    level: float = 0.9,
    model: Mapping[str, Any] | None = None,
    name: str = "",
) -> Comparison:
    """Hold one field's counts against every rule set that fits it.

    Parameters
    ----------
    counts
        What `tillercount.field.collect` reads.
    crop, region, stage
        A set fits when it was published for the crop, holds in the region (all do where none is
        given) and was made for the stage (likewise).
    rules : sequence of names, files or rule sets, optional
        More sets than those that come with the program, such as a user's own files.
    insist : bool
        Use sets for other crops too; their rows then say "not validated".
    local : Local, optional
        Row spacing and normal stand, without which some sets can't be used.
    area : Area, optional
        What lay on the ground; with the row spacing it says how far the frame is out by luck.

    Raises
    ------
    InputError
        A region that no set names, a stage that can't be read, counts that can't be used.
    """
    sets = {one.name: one for one in list_rules()}
    own = {one.name: one for one in (load_rules(each) for each in rules)}
    sets.update(own)
    region = " ".join(region.split())
    place = place_named(region)
    if region and not any(one.holds_in(region) for one in sets.values()):
        if place is not None:
            raise InputError(
                f"{none_for(place, sets.values())}. Without a region all that fit the crop are "
                "shown beside each other"
            )
        if region.casefold() in TOO_WIDE:
            raise InputError(
                f"region {region!r} is too wide, as limits are published by state or province; "
                "name yours, like Kansas or KS"
            )
        meant = join(region_meant(region, list(sets.values())), "or")
        hint = f"; did you mean {meant}?" if meant else "."
        raise InputError(
            f"region {region!r} isn't known here{hint} Name the state, the province or the country "
            f"in English, like Kansas, KS or Germany; where that has no rules here, {DECIDES}. "
            "`tillercount rules list` shows all sets and where they hold"
        )
    crop = crop_name(crop)
    if isinstance(stage, str):
        stage = parse_stage(stage)
    collected = collect(counts, model=model)
    single, copies = one_of_each(collected.spots)
    collected = replace(collected, spots=single)
    if local is not None and local.row_spacing_mm is not None:
        drill = f"{local.row_spacing_mm / MM_PER_IN:.4g} in"
        collected = replace(collected, spots=with_drill(collected.spots, drill))
    doubts = [*several_fields(collected.spots), *contradictions(collected.spots, level)]
    estimate = estimate_field(collected.spots, level=level)
    rows: list[Compared] = []
    left_out: list[LeftOut] = []
    for one in sets.values():
        # A file that the user names is meant, wherever it is from.
        if region and one.name not in own and not one.holds_in(region):
            why = f"for {one.region}, not {region}"
            left_out.append(LeftOut(one, why, elsewhere=True, kind=f"for elsewhere than {region}"))
            continue
        unfit = _unfit(one, crop, stage, insist)
        if unfit is not None:
            left_out.append(unfit)
            continue
        judged = judge(one, estimate, local, stage)
        rows.extend(_rows(one, judged, not_validated(one, crop)))
        left_out.extend(
            LeftOut(one, why, what, kind=why, needs=with_example(one, what))
            for what, why in judged.why_not.items()
        )
    nowhere = place is not None and not any(
        one.rules and one.covers(crop) and one.holds_in(region) for one in sets.values()
    )
    fit = [one for one in sets.values() if insist or one.covers(crop)]
    # of other crops there may be some
    whose = crop if any(one.rules and one.holds_in(region) for one in sets.values()) else ""
    flags = [
        *([none_for(place, fit, whose)] if place is not None and nowhere and not rows else []),
        *counts_warnings(estimate),
        *copies,
        *other_photo_flags(estimate),
        *doubts,
        *filter(None, [areas_line(collected.spots)]),
        *without_told(estimate),
    ]
    for used in dict.fromkeys(row.rules.name for row in rows):
        flags.extend(rule_warnings(sets[used], stage=stage))
    if collected.refused:
        flags.append(refused_line(collected.refused))
    if area is not None and local is not None and local.row_spacing_mm is not None:
        flags.extend(filter(None, [luck_of(area, local.row_spacing_mm)]))
    return Comparison(
        field=estimate,
        crop=crop,
        stage=stage,
        region=region,
        rows=tuple(sorted(rows, key=lambda row: row.result.rule.measures)),
        left_out=tuple(left_out),
        flags=tuple(dict.fromkeys(flags)),
        name=name,
        model=collected.model,
    )


def _unfit(rules: RuleSet, crop: str, stage: Stage | None, insist: bool) -> LeftOut | None:
    """Why a rule set doesn't fit a field, its region apart; None where it does."""
    if not rules.rules:
        reason = "gives the whole nitrogen by yield goal, judges no density"
        return LeftOut(rules, reason, kind=reason)
    if not (insist or rules.covers(crop)):
        reason = f"for {join(rules.crops)}, not validated for {crop}"
        return LeftOut(rules, reason, kind=f"for other crops than {crop}")
    if stage is not None and (place := rules.stage.place(stage)) != "within":
        late = "later" if place == "after" else "earlier"
        reason = (
            f"made for {rules.stage.from_} to {rules.stage.to}; {stage.words} is {late} "
            f"(look for: {stage.feature})"
        )
        return LeftOut(rules, reason, kind=f"made for other stages than {stage.words}")
    return None


def _rows(rules: RuleSet, judged: Judged, warning: str) -> list[Compared]:
    out = []
    if judged.plants is not None:
        out.append(Compared(rules, judged.plants, warning, judged.assumed.get("plants", ())))
    if judged.shoots is not None:
        out.append(Compared(rules, judged.shoots, warning, judged.assumed.get("shoots", ())))
    return out
