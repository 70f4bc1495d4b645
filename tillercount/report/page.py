"""The page a grower gets: one HTML file with everything in it.

No script, no network, nothing beside it; readable on a phone and in black and white on paper.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Sequence
from dataclasses import replace
from importlib import resources
from pathlib import Path
from typing import Any

from tillercount.errors import InputError
from tillercount.inplace import write_bytes
from tillercount.report.figure import Dot, density_figure, letter
from tillercount.report.pagepictures import Overlay, picture_of
from tillercount.report.pagespots import spot_rows
from tillercount.stand.actions import parted
from tillercount.stand.alike import same_done
from tillercount.stand.assessment import Assessment
from tillercount.stand.cautions import Advice
from tillercount.stand.classify import Classified, in_unit
from tillercount.stand.otherplants import SEEN_WRONG, seen_text, weed_advice
from tillercount.stand.raterows import rate_rows
from tillercount.stand.shares import class_percent, class_shares, percents
from tillercount.stand.wide import why_wide
from tillercount.stand.words import MARK_WORDS, file_names, number_text, percent, rate_text
from tillercount.twoforms import as_sentence, on_paper
from tillercount.units import M2_PER_FT2, bu_per_ac_to_t_per_ha, kg_per_ha, per_ft2

__all__ = ["named_field", "page_html", "write_page"]


def write_page(
    assessment: Assessment,
    path: str | Path,
    *,
    overlays: Sequence[Overlay] = (),
    date: datetime.date | None = None,
) -> Path:
    """Write the page of an assessment as one self-contained HTML file.

    Parameters
    ----------
    assessment : Assessment
    path : path
        Where to; an existing file is replaced once the new one is whole.
    overlays : sequence of path or (path, caption)
        Pictures to put in, made smaller where they are large.
    date : date, optional
        Today if left out.

    Raises
    ------
    InputError
        A picture can't be read, or the file can't be written, or is write-protected.
    """
    path = Path(path)
    html = page_html(assessment, overlays=overlays, date=date)
    try:
        write_bytes(path, html.encode("utf-8"))
    except OSError as error:
        reason = error.strerror or error
        raise InputError(
            f"{path}: can't be written ({reason}); choose another place for the page"
        ) from error
    return path


def page_html(
    assessment: Assessment,
    *,
    overlays: Sequence[Overlay] = (),
    date: datetime.date | None = None,
) -> str:
    """The page as text; see `write_page`."""
    import jinja2

    environment = jinja2.Environment(
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
        finalize=_as_on_paper,
    )
    environment.filters.update(num=number_text, pct=percent, sentence=as_sentence)
    folder = resources.files("tillercount.report")
    template = environment.from_string(folder.joinpath("page.html.j2").read_text("utf-8"))
    style = folder.joinpath("page.css").read_text("utf-8")
    return template.render(**_content(assessment, overlays, date), style=style) + "\n"


def _as_on_paper(value: Any) -> Any:
    """Whatever the template puts in; style and drawings come marked as safe, and stay."""
    return on_paper(value) if type(value) is str else value


def _content(
    assessment: Assessment, overlays: Sequence[Overlay], date: datetime.date | None
) -> dict[str, Any]:
    field = assessment.field
    results = [r for r in (assessment.plants, assessment.shoots) if r is not None]
    first, also = parted(assessment.verdict.actions)
    told = assessment.nitrogen.cautions if assessment.nitrogen else ()
    return {
        "name": named_field(assessment) or "Field not named",
        "first": first,
        "also": also,
        # said in the header already
        "rules_by": ("", assessment.rules.by, "from the interval of these counts"),
        "flags": [
            f
            for f in assessment.flags
            if f not in (*told, *assessment.verdict.warnings, assessment.weed_notice)
        ],
        "weeds": _weeds(assessment),
        # whose folder a photo lies in is no reader's business
        "refused": _refused(assessment),
        "mark": MARK_WORDS[assessment.rules.mark],
        "a": assessment,
        "date": (date or datetime.date.today()).strftime("%-d %B %Y")
        if os.name != "nt"
        else (date or datetime.date.today()).isoformat(),
        "sure": _sure(assessment),
        "shares": class_shares(assessment.decided_by),
        "called": assessment.decided_by.called,
        "densities": [
            _density(label, estimate, () if result is None else result.borders_per_ft2)
            for label, estimate, result in (
                ("Plants", field.plants, assessment.plants),
                ("Shoots", field.shoots, assessment.shoots),
            )
            if estimate is not None
        ],
        "figures": [_figure(assessment, result) for result in results],
        "nitrogen": _nitrogen(assessment),
        "spots": spot_rows(assessment),
        "paired": [
            {"spot": p.spot, "plants": _signed(p.plants_per_m2), "shoots": _signed(p.shoots_per_m2)}
            for p in field.paired
        ],
        "tonnes": _tonnes(assessment),
        "wide": why_wide(assessment.heads, assessment.yield_),
        "pictures": [picture_of(overlay) for overlay in overlays],
        "per_m2": 1 / M2_PER_FT2,
    }


def _refused(a: Assessment) -> list[tuple[str, str]]:
    names = file_names([photo for photo, _ in a.refused])
    return [(name, reason) for name, (_, reason) in zip(names, a.refused, strict=True)]


def named_field(a: Assessment) -> str:
    """The field's name as given, else as the counts themselves have it; "" where they don't agree.
    """
    names = {" ".join(spot.field.split()) for spot in a.field.listed} - {""}
    return a.name or (names.pop() if len(names) == 1 else "")


def _sure(a: Assessment) -> str:
    share = class_percent(a.decided_by)
    by = a.decided_by.rule.measures
    called = a.decided_by.called()
    if a.decided_by.held is not None:
        return f"{share} likely “{called}” by the count of {by} alone, held back"
    if a.verdict.clear:
        return f"{share} likely, by the count of {by}"
    if same_done(a.decided_by):
        return f"the likelier, “{called}”, is {share} likely by the count of {by}"
    return f"the likeliest, “{called}”, is only {share} likely"


def _density(label: str, e: Any, borders: Sequence[float]) -> dict[str, str]:
    # only the mean is judged by the borders, so only it must stay on its side of them
    us = [
        number_text(per_ft2(e.mean), borders),
        *(number_text(per_ft2(v)) for v in (e.low, e.high)),
    ]
    metric = [f"{v:.0f}" for v in (e.mean, e.low, e.high)]
    return {
        "label": label,
        "mean": us[0],
        "interval": f"{us[1]} to {us[2]}",
        "metric": f"{metric[0]} ({metric[1]} to {metric[2]})",
        "spots": str(e.n),
        "cv": "–" if e.cv is None else f"{100 * e.cv:.0f} %",
        "level": f"{100 * e.level:.0f} %",
    }


def _figure(a: Assessment, result: Classified) -> dict[str, Any]:
    rule = result.rule
    what = f"{rule.measures}_per_m2"
    dots = [
        Dot(in_unit(value, rule), spot.by(rule.measures) == "hand")
        for spot in a.field.used
        if (value := getattr(spot, what)) is not None
    ]
    bands = [
        {
            "letter": letter(index),
            "range": rule.range_text(index),
            "name": result.titled(band),
            "share": shown,
            "width": round(100 * share, 1),
            "here": band is result.band,
        }
        for index, (band, share, shown) in enumerate(
            zip(
                rule.bands,
                result.band_probabilities,
                percents(result.band_probabilities),
                strict=True,
            )
        )
    ]
    return {
        "measures": rule.measures,
        "svg": density_figure(result, dots, level=a.field.level),
        "bands": bands,
        "unit": "ft²" if rule.unit == "ft2" else "m²",
        "hand": any(dot.by_hand for dot in dots),
        "photo": any(not dot.by_hand for dot in dots),
        "settled": result.clear or bool(same_done(result)),
        "held": result.held is not None,
        "note": rule.note,
    }


def _nitrogen(a: Assessment) -> dict[str, Any] | None:
    plan = a.nitrogen
    if plan is None:
        return None
    rows = [
        {
            "label": label,
            "us": rate_text(ends) if ends[1] else "none",
            "metric": rate_text([kg_per_ha(v) for v in ends]) if ends[1] else "none",
        }
        for label, ends in rate_rows(plan)
    ]
    return {"plan": plan, "rows": rows}


def _weeds(a: Assessment) -> list[Advice]:
    said = weed_advice(a.weed_notice, a.weeds, a.stage)
    if a.weeds and a.field.other_plants is not None:
        short = {one.words: one.beside_density for one in a.weeds}
        return [
            Advice(
                f"other plants: {seen_text(a.field.other_plants)}; not calibrated: {SEEN_WRONG}", ""
            ),
            *(replace(one, text=short.get(one.text, one.text)) for one in said),
        ]
    return said


def _signed(value: float | None) -> str:
    return "–" if value is None else f"{per_ft2(value):+.1f}"


def _tonnes(a: Assessment) -> str:
    if a.yield_ is None:
        return ""
    low, high = (bu_per_ac_to_t_per_ha(v, a.crop) for v in (a.yield_.low, a.yield_.high))
    return f"{low:.1f} to {high:.1f}"
