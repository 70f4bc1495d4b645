"""All sets that fit, side by side, each by itself."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.stand.fields import field, shoots_only
from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.stand import assess, list_rules, load_rules
from tillercount.stand.compare import compare
from tillercount.stand.comparison import Comparison
from tillercount.stand.lines import line_of, line_table
from tillercount.stand.local import Local, parse_local
from tillercount.stand.picture import comparison_png
from tillercount.stand.places import place_named

MIDDLING = [20.0, 17.0, 23.0, 19.0, 22.0, 16.0]


def names(result: Comparison) -> set[str]:
    return {row.rules.name for row in result.rows}


def test_each_row_is_what_assess_says() -> None:
    counts = field(MIDDLING)
    result = compare(counts, level=0.9)
    assert len(names(result)) >= 12
    for row in result.rows:
        alone = assess(counts, row.rules.name, level=0.9)
        same = alone.plants if row.result.rule.measures == "plants" else alone.shoots
        assert same is not None
        assert same.probabilities == row.result.probabilities
        assert same.class_ == row.result.class_


def test_every_set_is_in_the_table_or_left_out_with_a_reason() -> None:
    result = compare(field(MIDDLING), region="Pennsylvania", stage="Feekes 3")
    out = {one.rules.name for one in result.left_out}
    assert names(result) | out == {rules.name for rules in list_rules()}
    assert names(result) == {"common-practice", "pennsylvania-stand"}
    assert all(one.reason for one in result.left_out)
    assert any(one.elsewhere for one in result.left_out)


@pytest.mark.parametrize(
    ("region", "has"),
    [
        ("Virginia", "common-practice"),
        ("MD", "common-practice"),
        ("ohio", "ohio-stand"),
        ("North  Carolina", "north-carolina-ncdacs-nitrogen"),
        ("UK", "uk-stand"),
        ("canada", "western-canada-stand"),
    ],
)
def test_regions(region: str, has: str) -> None:
    found = compare(field(MIDDLING), region=region)
    assert has in names(found)
    assert "missouri-nitrogen" not in names(found)


def test_region_unknown() -> None:
    for region in ("Atlantis", "Bavaria", "Bayern"):
        with pytest.raises(InputError) as caught:
            compare(field(MIDDLING), region=region)
        said = str(caught.value)
        assert said.startswith(f"region {region!r} isn't known here")
        assert "Name the state, the province or the country" in said
        assert "the local extension service says which limits hold there" in said
        assert "`tillercount rules list`" in said
    with pytest.raises(InputError, match="did you mean Virginia"):
        compare(field(MIDDLING), region="Virgina")
    # a name inside another one isn't that place
    assert not load_rules("ohio-stand").holds_in("hio")
    assert not load_rules("virginia-nitrogen").holds_in("West Virginia")


@pytest.mark.parametrize(
    ("region", "near"),
    [
        ("Illinois", "missouri-nitrogen (Missouri); kentucky-stand (Kentucky); wisconsin-stand"),
        ("ny", "ontario-stand (Ontario, Canada); common-practice (US mid-Atlantic)"),
        ("France", "near by: uk-stand (United Kingdom). It is for other ground"),
        ("Germany", "none near by either"),
    ],
)
def test_region_without_rules_of_its_own(region: str, near: str) -> None:
    with pytest.raises(InputError) as caught:
        compare(field(MIDDLING), region=region)
    said = str(caught.value)
    assert said.startswith("no rule set here that judges a stand was published for ")
    assert near in said
    assert "the local extension service says which limits hold there" in said


def test_region_with_rules_for_nitrogen_alone() -> None:
    found = compare(field(MIDDLING), region="IN", stage="Feekes 3")
    assert not found.rows
    assert found.flags[0].startswith("no rule set here that judges a stand was published for Ind")
    assert "(tri-state-nitrogen-1995 and tri-state-nitrogen-2020 give nitrogen" in found.flags[0]
    assert "near by: ohio-stand (Ohio); ohio-stems (Ohio); kentucky-stand" in found.flags[0]
    # where a set holds and only needs something more, that is said, not this
    kansas = compare(field(MIDDLING), region="Kansas", stage="Feekes 3")
    assert not any("no rule set here" in flag for flag in kansas.flags)
    with pytest.raises(InputError, match="did you mean Illinois"):
        compare(field(MIDDLING), region="Illinios")
    with pytest.raises(InputError, match=r"too wide.* name yours, like Kansas"):
        compare(field(MIDDLING), region="USA")


def test_region_with_rules_for_another_crop_alone() -> None:
    found = compare(field(MIDDLING), region="Kansas", crop="barley", stage="Feekes 3")
    assert not found.rows
    said = "no rule set here that judges a stand of barley was published for Kansas; none near by"
    assert found.flags[0].startswith(said)


def test_rules_named_by_a_region_without_any() -> None:
    with pytest.raises(InputError, match=r"'Illinois' isn't known, and no rule .* near by: .*ext"):
        load_rules("Illinois")
    with pytest.raises(InputError, match=r"published for Indiana \(tri-state.*near by: ohio-stand"):
        load_rules("Indiana")
    with pytest.raises(InputError, match="did you mean 'ohio-stand'"):
        load_rules("Ohio")


def test_places_of_all_boxes_are_known() -> None:
    """Middles, and not those of boxes, say what is near; each lies in its box."""
    for rules in list_rules():
        for box in rules.where:
            place = place_named(box.name)
            assert place is not None, box.name
            assert box.away_m(place.lat, place.lon) == 0.0, box.name


def test_left_out_by_reason() -> None:
    """The region first; then one kind of reason for all sets that share it."""
    result = compare(field(MIDDLING), region="Kansas", stage="Feekes 3")
    by_kind: dict[str, set[str]] = {}
    for one in result.left_out:
        by_kind.setdefault(one.kind, set()).add(one.rules.name)
    assert len(by_kind) == 3
    assert by_kind["gives the whole nitrogen by yield goal, judges no density"] == {
        "kansas-nitrogen"
    }
    assert "tri-state-nitrogen-2020" in by_kind["for elsewhere than Kansas"]
    assert all(one.elsewhere == one.kind.startswith("for elsewhere") for one in result.left_out)


def test_disagreement() -> None:
    """Sets that say one thing of early nitrogen aren't said to differ."""
    assert compare(field(MIDDLING), region="Nebraska").disagreement == ""
    told = compare(field(MIDDLING), region="Pennsylvania").disagreement
    assert "common-practice (plants)" in told
    assert "pennsylvania-stand (shoots)" in told


def test_this_or_that_is_that_or_this_and_silence_contradicts_nobody() -> None:
    """27 plants with 2.96 shoots each are between two classes by plants and by shoots; Penn State's
    table of plants says nothing of early nitrogen."""
    counts = field([27.0, 22.0, 31.0, 26.0, 29.0, 25.0], each=2.7)
    result = compare(counts, region="Pennsylvania")
    texts = {row.early_text for row in result.rows}
    assert {
        "early nitrogen if “thin but worth keeping”, none if “on target”",
        "no early nitrogen if “enough tillers”, early nitrogen if “few tillers”",
    } <= texts
    assert result.disagreement == ""
    differ = compare(field([28.0, 29, 30, 27, 31, 30, 29], each=2.5), region="Pennsylvania")
    assert differ.disagreement == (
        "The sets say different things: common-practice (plants): no early nitrogen; "
        "pennsylvania-stand (shoots): early nitrogen or none, too close to tell"
    )


def test_crops() -> None:
    barley = compare(field(MIDDLING), crop="winter barley")
    assert names(barley) == {"minnesota-stand", "ireland-barley-shoots"}
    reasons = {one.rules.name: one.reason for one in barley.left_out}
    assert reasons["missouri-nitrogen"] == "for wheat, not validated for barley"
    assert not compare(field(MIDDLING), crop="triticale").rows
    insisted = compare(field(MIDDLING), crop="triticale", insist=True)
    assert len(names(insisted)) > 12
    assert all(row.to_json()["validated"] is False for row in insisted.rows)


def test_insisting_is_said_on_every_page() -> None:
    counts = field(MIDDLING)
    with pytest.raises(InputError, match="not validated for rye"):
        assess(counts, "pennsylvania-stand", crop="cereal rye")
    result = assess(counts, "pennsylvania-stand", crop="cereal rye", insist=True)
    assert result.verdict.headline.startswith("Not validated for rye")
    assert result.flags[0].startswith("Not validated for rye")
    assert result.verdict.cautions[0].text.startswith("Not validated for rye")
    assert result.to_json()["validated"] is False
    assert result.nitrogen is None  # pounds per bushel are wheat's
    own = assess(counts, "pennsylvania-stand", insist=True)
    assert own.to_json()["validated"] is True
    assert "Not validated" not in own.verdict.headline


def test_local_figures_let_more_sets_in() -> None:
    counts = field(MIDDLING)
    local = Local(row_spacing_mm=190.5, normal_per_m2=25 / 0.09290304)
    more = names(compare(counts, local=local)) - names(compare(counts))
    assert more == {"ontario-stand", "ontario-adviser-stand", "kansas-replant"} | {
        "south-dakota-percent"
    }
    row = next(r for r in compare(counts, local=local).rows if r.rules.name == "ontario-stand")
    assert any("per foot of row" in text for text in row.assumed)
    assert parse_local("7 1/2 in").row_spacing_mm == pytest.approx(190.5)
    assert parse_local("270 per m2").normal_per_m2 == pytest.approx(270)


def test_three_leaf_counts_bring_other_sets() -> None:
    counts = shoots_only([40, 42, 44, 41], Definition.STEMS_3_LEAVES)
    found = names(compare(counts))
    assert {"virginia-nitrogen", "north-carolina-sampson-nitrogen"} <= found
    assert "pennsylvania-stand" not in found  # it counts every shoot
    reasons = {(o.rules.name, o.measures): o.reason for o in compare(counts).left_out}
    assert reasons["common-practice", "plants"] == "no plants were counted"
    assert "can't be worked out" in reasons["pennsylvania-stand", "shoots"]


OWN = """format = "tillercount.rules/1"
name = "mine"
title = "Mine"
publisher = "Me"
region = "Here"
crops = ["wheat"]
mark = "from memory"
stage = { from = "Feekes 2", to = "GS30" }
counting = { main_stem = "in", min_leaves = 0 }
notes = [
  "name = 'not a key'",
  "[not.a.table]",
]
[[rules]]
measures = "plants"
  [[rules.bands]]
  class = "low"
  name = "low"
  to = 12
  [[rules.bands]]
  class = "high"
  name = "high"
[[rules]]
measures = "shoots"
  [[rules.bands]]
  class = "few"
  name = "few"
  to = 40
  [[rules.bands]]
  class = "many"
  name = "many"
"""


def test_own_file_beside_the_others(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(OWN, encoding="utf-8")
    result = compare(field(MIDDLING), region="Ohio", rules=[path])
    mine = [row for row in result.rows if row.rules.name == "mine"]
    assert len(mine) == 2
    assert mine[0].to_json()["mark"] == "from memory"
    path.write_text(OWN.replace("to = 40", "too = 40"), encoding="utf-8")
    with pytest.raises(InputError, match=r"mine\.toml, line 28, rules\[2\]\.bands\[1\]\.too"):
        compare(field(MIDDLING), rules=[path])


def test_lines() -> None:
    where = line_table(OWN)
    rows = OWN.splitlines()
    assert where["name",] == 2
    assert where["notes",] == 10
    assert where["rules", 0] == rows.index("[[rules]]") + 1
    assert where["rules", 0, "bands", 0, "to"] == rows.index("  to = 12") + 1
    assert where["rules", 1, "bands", 0, "to"] == rows.index("  to = 40") + 1
    assert where["rules", 1, "bands", 1, "class"] == rows.index('  class = "many"') + 1
    assert ("not", "a", "table") not in where
    assert line_of(("rules", 1, "bands", 1, "to"), where) == where["rules", 1, "bands", 1]
    assert line_of(("stage", "from"), where) == 8
    assert line_of(("year",), where) is None


def test_json() -> None:
    data = json.loads(json.dumps(compare(field(MIDDLING)).to_json(), allow_nan=False))
    assert data["schema"] == "tillercount.comparison/1"
    assert data["field"]["plants_per_ft2"]["mean"] == pytest.approx(19.5)
    for row in data["rows"]:
        assert {"rules", "region", "year", "mark", "class", "probabilities", "bands"} <= set(row)
        assert row["sources"]
        assert sum(row["probabilities"].values()) == pytest.approx(1.0)
    assert {"rules", "measures", "reason", "use_as"} == set(data["left_out"][0])


def test_picture_shows_the_interval_where_it_lies() -> None:
    """Read in grey, the interval's marks move right with the mean."""

    def darkest_column(plants: list[float]) -> float:
        result = compare(field(plants, each=None), region="Nebraska")
        assert names(result) == {"nebraska-stand"}
        picture = Image.open(io.BytesIO(comparison_png(result))).convert("L")
        grey = np.asarray(picture, float)
        # the bars' part, below the border numbers and above the axis
        bars = grey[150:230, int(0.34 * grey.shape[1]) : int(0.75 * grey.shape[1])]
        return float(np.median(np.nonzero(bars < 70)[1]))

    assert darkest_column([8, 9, 8, 9, 8]) < darkest_column([19, 18, 19, 18, 19])


def test_nothing_to_draw() -> None:
    with pytest.raises(InputError, match="nothing to draw"):
        comparison_png(compare(field(MIDDLING), crop="triticale"))


CSV = "spot,observer,plants,shoots,area\n" + "".join(
    f"{i},Ash,{p:g},{3 * p:g},square:12in\n" for i, p in enumerate(MIDDLING)
)


def _run(*args: object) -> Any:
    from typer.testing import CliRunner

    from tillercount.cli.app import app

    return CliRunner().invoke(app, [str(arg) for arg in args], prog_name="tillercount")


def test_command(tmp_path: Path) -> None:
    source, table, drawn = (tmp_path / name for name in ("c.csv", "c.json", "c.png"))
    source.write_text(CSV, encoding="utf-8")
    run: Callable[..., Any] = _run
    got = run("rules", "compare", source, "--region", "PA", "--stage", "F3", "--json", table,
              "--png", drawn)  # fmt: skip
    assert got.exit_code == 0, got.output
    assert re.search(r"pennsylvania-stand.*nearly full", got.output)
    assert re.search(r"for elsewhere than PA: \d+ sets", got.output)
    assert "delaware-nitrogen" not in got.output
    assert "The sets say different things" in got.output
    assert "do not destroy a stand before release" in got.output
    assert json.loads(table.read_text(encoding="utf-8"))["region"] == "PA"
    with Image.open(drawn) as picture:
        assert picture.width > 1000


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--region", "Atlantis"], "isn't known here"),
        (["--stage", "soon"], "stage 'soon' can't be read"),
        (["--row-spacing", "7.5"], "row spacing"),
        (["--normal-stand", "25"], "normal stand"),
        (["--rules", "nowhere"], "isn't known"),
        (["--crop", "triticale", "--png", "x.png"], "nothing to draw"),
    ],
)
def test_command_refuses(tmp_path: Path, options: list[str], says: str) -> None:
    source = tmp_path / "c.csv"
    source.write_text(CSV, encoding="utf-8")
    options = [str(tmp_path / "x.png") if one == "x.png" else one for one in options]
    got = _run("rules", "compare", source, *options)
    assert got.exit_code == 2
    assert says in got.output
    assert "Traceback" not in got.output
    assert not (tmp_path / "x.png").exists()
