"""An assessment on the screen: the sentence first, then why, then what to do and to mind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tillercount.cli.show import console

if TYPE_CHECKING:
    from tillercount.stand import Assessment

__all__ = ["show_assessment"]


def show_assessment(result: Assessment) -> None:
    """Print an assessment."""
    from rich.table import Table

    out = console()
    record = result.to_json()
    field, verdict = record["field"], record["verdict"]
    out.print(verdict["headline"], style="bold", soft_wrap=False)
    out.print()
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for what in ("plants", "shoots"):
        density = field[f"{what}_per_ft2"]
        if density is not None:
            table.add_row(what, _density(density, field.get(f"cv_{what}")))
            for row in _sampling(record["sampling"], what):
                table.add_row(*row)
    table.add_row("rules", f"{result.rules.title} ({record['rules']})")
    table.add_row("class", _classes(verdict))
    stop = next(t["stop"] for t in record["thresholds"] if t["measures"] == verdict["by"])
    if stop is not None:
        table.add_row("stop counting", _stop(stop, verdict["clear"]))
    if record["yield"]:
        table.add_row("yield", _yield(record["yield"]))
    table.add_row("crop", ", ".join(filter(None, (record["crop"], record["stage"]))))
    out.print(table)
    for title, lines in (
        ("What to do", verdict["actions"]),
        ("Nitrogen", (record["nitrogen"] or {}).get("lines", ())),
        ("Mind", [*record["flags"], *verdict["cautions"]]),
        ("Sources", verdict["sources"]),
    ):
        if lines:
            out.print()
            out.print(title, style="bold")
            for line in lines:
                _bullet(out, line)
    for refused in record["refused"]:
        out.print(f"{refused['photo']} refused: {refused['reason']}", soft_wrap=True)


def _density(density: dict[str, Any], cv: float | None) -> str:
    spots = density["spots"]
    text = (
        f"{density['mean']:.1f} per ft² ({density['low']:.1f}–{density['high']:.1f}, "
        f"{density['level']:.0%} interval; {spots} spot{'s' if spots != 1 else ''}"
    )
    return text + (f", spot-to-spot CV {cv:.0%})" if cv is not None else ")")


def _sampling(sampling: dict[str, Any], what: str) -> list[tuple[str, str]]:
    """Rows below a density: each way alone, zones, unevenness."""
    rows = []
    both = sampling["photo_and_hand"].get(what)
    if both is not None:
        for label, key in (
            ("  by hand alone", "hand_per_ft2"),
            ("  by photo alone", "photo_per_ft2"),
            ("  together", "combined_per_ft2"),
        ):
            if both[key] is not None:
                rows.append((label, _density(both[key], None)))
        rows.append(("  taken", f"{both['method']}: {both['why']}"))
    zones = sampling["zones"].get(what)
    if zones is not None:
        for zone in zones["zones"]:
            share = zone["area_share"]
            text = _density(zone["per_ft2"], None)
            more = f", {share:.0%} of the area" if share is not None else ""
            rows.append((f"  zone {zone['zone']}", text + more))
    uneven = sampling["dispersion"].get(what)
    if uneven is not None and uneven["index"] is not None:
        rows.append(("  unevenness", _uneven(uneven, what)))
    for under in sampling["spots_below"]:
        if under["measures"] == what:
            text = (
                f"{under['spots']} of {under['of']} spots (so {under['low']:.0%}–"
                f"{under['high']:.0%} of such spots, {under['level']:.0%} interval)"
            )
            rows.append((f"  below {under['below_per_ft2']:.3g} per ft²", text))
    return rows


def _uneven(uneven: dict[str, Any], what: str) -> str:
    if what == "shoots":
        return f"variance over mean {uneven['index']:.2f} (shoots come in plants, so above 1)"
    text = f"variance over mean {uneven['index']:.2f} (1 if at random); "
    if uneven["rough"]:
        return text + "too few per spot to test"
    if uneven["p_if_random_more"] < 0.05:
        return text + f"patchier than chance (p {uneven['p_if_random_more']:.2g})"
    if uneven["p_if_random_less"] < 0.05:
        return text + f"more even than chance (p {uneven['p_if_random_less']:.2g})"
    return text + "no more than chance"


def _stop(stop: dict[str, Any], clear: bool) -> str:
    if stop["high"] is None:
        lies = "fewer than 8 spots, or than 5 pairs, settle nothing"
    else:
        lies = f"the mean is then {stop['low']:.1f}–{stop['high']:.1f}, {stop['level']:.0%}"
    if stop["may_stop"]:
        return f"yes, even if you looked after every spot ({lies})"
    if clear:
        return (
            "yes if the number of spots was fixed beforehand; not yet if you look after every "
            f"spot ({lies})"
        )
    return f"not yet; if you look after every spot: {lies}"


def _classes(verdict: dict[str, Any]) -> str:
    ranked = sorted(verdict["probabilities"].items(), key=lambda item: -item[1])
    shown = ", ".join(f"{name} {share:.0%}" for name, share in ranked if share >= 0.005)
    return shown if verdict["clear"] else f"too close to call: {shown}"


def _yield(expected: dict[str, Any]) -> str:
    return f"about {expected['low']:.0f} to {expected['high']:.0f} bu/ac likely from these shoots"


def _bullet(out: Any, text: str) -> None:
    from rich.padding import Padding
    from rich.table import Table

    row = Table.grid(padding=(0, 1, 0, 0))
    row.add_column(width=1)
    row.add_column(overflow="fold")
    row.add_row("-", text)
    out.print(Padding(row, (0, 0, 0, 2)))
