"""From counts to a verdict under one rule set."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tillercount.errors import InputError
from tillercount.field.apart import several_fields
from tillercount.field.contradiction import contradictions
from tillercount.field.copies import one_of_each
from tillercount.field.estimate import estimate_field
from tillercount.field.oddrecords import areas_line
from tillercount.field.offfield import off_field
from tillercount.field.rowdoubt import drill_typed, with_drill
from tillercount.field.sources import collect
from tillercount.field.spots import SeenRows
from tillercount.stand.assessment import Assessment, Verdict
from tillercount.stand.behind import cautions_of, sources_of, steps_by_counts
from tillercount.stand.checks import photo_days
from tillercount.stand.crops import crop_name, not_validated, require
from tillercount.stand.expect import cant_tell, expected_heads
from tillercount.stand.explain import explain
from tillercount.stand.goal import goal_off
from tillercount.stand.heading import NO_YIELD, heads_hide
from tillercount.stand.hints import (
    stage_hints,
    stage_or_tillers,
    thin_heads,
    tillers_each,
    tillers_hint,
)
from tillercount.stand.judge import judge, nothing_to_judge
from tillercount.stand.library import list_rules, load_rules
from tillercount.stand.onsteps import steps_with
from tillercount.stand.otherplants import Weeds, named_weeds, notice, weeds_in
from tillercount.stand.overcount import crossed, overcount
from tillercount.stand.potential import yield_potential
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.settle import counting_helps, headline, settle
from tillercount.stand.split import split_by_stand
from tillercount.stand.stage import Stage, parse_stage
from tillercount.stand.unweighted import spot_for_spot
from tillercount.stand.warn import (
    counts_warnings,
    default_line,
    other_photo_flags,
    places_of,
    rule_warnings,
    without_told,
)
from tillercount.stand.words import refused_line
from tillercount.twoforms import as_sentence
from tillercount.units import bu_per_ac

if TYPE_CHECKING:
    from tillercount.plan.boundary import Field

__all__ = ["assess"]


def assess(
    counts: Any,
    rules: str | Path | RuleSet = "common-practice",
    *,
    yield_goal: str | float | None = None,
    crop: str = "wheat",
    stage: str | Stage | None = None,
    level: float = 0.9,
    model: Mapping[str, Any] | None = None,
    name: str = "",
    insist: bool = False,
    zone_areas: Mapping[str, float] | None = None,
    places: Sequence[tuple[float, float]] = (),
    outline: Field | None = None,
    seen: dt.date | None = None,
    by_default: bool = False,
    weeds: Weeds | Sequence[str] = (),
    row_spacing: str | None = None,
    rows_elsewhere: Sequence[SeenRows] = (),
) -> Assessment:
    """Hold a field's counts against a rule set.

    Parameters
    ----------
    counts
        What `tillercount.field.collect` reads: spots, hand counts, photo counts, a counts file as
        dict or path, a CSV of hand counts, or a list of these.
    rules : str, path or RuleSet
        Name of a rule set, or a user's own file (see `load_rules`).
    yield_goal : str or float, optional
        Like "80 bu/ac" or "5.4 t/ha"; a bare number is bu/ac. Without it no pounds of nitrogen.
    crop : str
    stage : str, optional
        Like "Feekes 3" or "GS25".
    level : float
        Level of the intervals.
    model : mapping, optional
        What is known of the counting model (see `tillercount.field.collect`).
    name : str
        Name of the field, for the page.
    insist : bool
        Use the rules for a crop that they weren't published for; the verdict then says "not
        validated".
    zone_areas : mapping, optional
        Area of each zone, in any one unit; zones then weigh by it instead of by their spots.
    places : sequence of (lat, lon)
        Where the field lies, if that is known otherwise than by its spots, such as by its boundary.
    outline : Field, optional
        From `tillercount.plan.read_field`: spots outside it are said first.
    seen : date, optional
        When the field was seen; rules written for the fall say so at any other time.
    by_default : bool
        Nobody chose these rules; where nobody knows either where the field lies, that is said.
    weeds : Weeds or sequence of str
        Weeds that the user knows: ``"henbit=40/m2"``, or ``"henbit"`` where that is what else
        grows in the photos.
    row_spacing : str, optional
        The drill's, like "7.5 in": rows seen in photos with a frame are held against it.
    rows_elsewhere : sequence of SeenRows
        As in `estimate_field`.

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        Every spot outside the outline, unknown rules, a crop they don't cover, a stage or yield
        goal that can't be read, counts that can't be used, photos and hand counts that contradict
        each other, counts of a kind that the rules can't judge, or a weed without a density that
        photos could give.
    """
    rule_set = load_rules(rules)
    crop = crop_name(crop)
    if not insist:
        require(rule_set, crop, [r.name for r in list_rules() if r.rules and r.covers(crop)])
    warning = not_validated(rule_set, crop)
    if isinstance(stage, str):
        stage = parse_stage(stage)
    goal = _goal(yield_goal, crop)
    weeds = weeds if isinstance(weeds, Weeds) else named_weeds(weeds)
    collected = collect(counts, model=model, field=name or None)
    single, copies = one_of_each(collected.spots)
    collected = replace(collected, spots=single)
    drill = drill_typed(row_spacing)
    if drill is not None:
        collected = replace(collected, spots=with_drill(collected.spots, drill))
    off = [] if outline is None else off_field(collected.spots, outline)
    doubts = [
        *several_fields(collected.spots),
        *contradictions(collected.spots, level),
    ]
    field = estimate_field(
        collected.spots, level=level, zone_areas=zone_areas, rows_elsewhere=rows_elsewhere
    )
    losses = weeds_in(weeds, field.other_plants)
    where = [*places_of(collected.spots), *places]
    # what may turn the verdict over comes first, how it was worked out last
    flags = [
        *doubts,
        *([warning] if warning else []),
        *(default_line(rule_set, where) if by_default else ()),
        *stage_or_tillers(stage, field),
        *stage_hints(rule_set, stage),
        *filter(None, [areas_line(collected.spots)]),
    ]
    judged = judge(rule_set, field, stage=stage)
    plants, shoots = judged.plants, judged.shoots
    decided = plants or shoots
    if decided is None:
        raise InputError(nothing_to_judge(rule_set, field, judged))
    if "plants" in judged.why_not and field.plants is None:
        flags.append("plants weren't counted, so the stand itself can't be judged, only tillers")
    elif "plants" in judged.why_not:
        flags.append(f"plants not judged: {judged.why_not['plants']}")
    if "shoots" in judged.why_not:
        flags.append(f"tillers not judged: {judged.why_not['shoots']}")

    trade = load_rules("common-practice")
    heads = expected = None
    no_yield = ""
    later: list[str] = []
    if crop == "wheat" and field.shoots is not None and not field.definition.min_leaves:
        no_yield = NO_YIELD if heads_hide(stage, field) else cant_tell(field.shoots)
        if not no_yield:
            heads = expected_heads(field.shoots)
            expected = yield_potential(heads, rule_set, trade, crop=crop)
            later.extend(thin_heads(heads, rule_set, trade))
    each = tillers_each(rule_set, field)
    later = [*tillers_hint(each, field, plants, stage), *later]
    plan = None
    if crop == "wheat":  # pounds per bushel here are wheat's
        plan = split_by_stand(
            plants,
            shoots,
            rule_set,
            trade,
            goal_bu_ac=goal,
            stage=stage,
            expected=expected,
            told=True,
        )
    flags.extend(goal_off(goal, expected))
    if plan is not None:
        flags.extend(plan.cautions)
        # what its first lines say
        flags = [flag for flag in flags if as_sentence(flag) not in plan.unsure]
    weights = spot_for_spot(rule_set, field, decided, stage)
    flags += [*other_photo_flags(field), *later, *weights, *without_told(field)]
    flags.extend(flag for taken in judged.assumed.values() for flag in taken)
    if collected.refused:
        flags.append(refused_line(collected.refused))
    warnings = [
        *counts_warnings(field, [one for one in (plants, shoots) if one is not None]),
        *copies,
        *off,
        *photo_days(seen, [spot.taken for spot in collected.spots if spot.taken]),
        *rule_warnings(rule_set, where, stage=stage, seen=seen),
    ]
    too_many = overcount(field, plants)
    if too_many is not None and plants is not None and crossed(plants):
        warnings.append(too_many.text)
    flags = [*warnings, *flags]
    flags.extend(filter(None, [notice(field.other_plants, named=bool(losses))]))
    left = plan.on.instead if plan is not None and plan.on is not None else ""
    text = headline(decided, shoots if decided is plants else None, stage, left)
    todo = steps_by_counts(rule_set, field, plants, shoots, stage)
    if plan is not None and plan.on is not None:
        todo = steps_with(todo, (plants, shoots), rule_set, stage, plan.on)
    verdict = Verdict(
        class_=decided.class_,
        headline=f"{warning} {text}".strip(),
        probabilities=decided.probabilities,
        clear=decided.clear,
        actions=tuple(todo),
        cautions=tuple(cautions_of(rule_set, collected, warning, too_many)),
        sources=tuple(sources_of(rule_set, plants, shoots, plan)),
        settle=settle(decided),
        counting_helps=any(counting_helps(one) for one in (plants, shoots) if one is not None),
        warnings=tuple(warnings),
    )
    return Assessment(
        rules=rule_set,
        field=field,
        verdict=verdict,
        crop=crop,
        stage=stage,
        plants=plants,
        shoots=shoots,
        heads=heads,
        yield_=expected,
        no_yield=no_yield,
        nitrogen=plan,
        steps=tuple(explain(rule_set, field, judged, verdict, heads, expected, plan)),
        flags=tuple(dict.fromkeys(flags)),
        refused=collected.refused,
        model=collected.model,
        name=name,
        version=_version(),
        weeds=losses,
    )


def _version() -> str:
    from importlib import metadata

    try:
        return metadata.version("tillercount")
    except metadata.PackageNotFoundError:
        return ""


def _goal(yield_goal: str | float | None, crop: str) -> float | None:
    if yield_goal is None:
        return None
    text = f"{yield_goal} bu/ac" if isinstance(yield_goal, int | float) else yield_goal
    return bu_per_ac(text, crop=crop)
