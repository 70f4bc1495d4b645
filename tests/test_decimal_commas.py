"""A comma that can only be a decimal one is read wherever a length or a number is typed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.store.helpers import counts, entry, write
from tillercount import units
from tillercount.cli.app import app
from tillercount.errors import InputError
from tillercount.field.rowdoubt import drill_typed
from tillercount.plan.words import distance_m
from tillercount.stand.inputs import air_f
from tillercount.stand.local import parse_local
from tillercount.stand.potential import parse_kernels
from tillercount.stand.products import parse_price
from tillercount.stand.rates import rate_lb_ac
from tillercount.typed import counted


@pytest.mark.parametrize(
    ("read", "comma", "point"),
    [
        (units.length_mm, "7,5in", "7.5in"),
        (units.area_m2, "0,25 m2", "0.25 m2"),
        (units.density_per_m2, "25,5/ft2", "25.5/ft2"),
        (units.bu_per_ac, "5,4 t/ha", "5.4 t/ha"),
        (units.number, "12,5", "12.5"),
        (rate_lb_ac, "33,5 kg/ha", "33.5 kg/ha"),
        (parse_kernels, "30,5-35", "30.5-35"),
        (air_f, "12,5 C", "12.5 C"),
        (parse_local, "7,5in", "7.5in"),
    ],
)  # fmt: skip
def test_a_comma_is_the_point(read: Callable[..., object], comma: str, point: str) -> None:
    names = {parse_kernels: {"what": "kernels"}}.get(read, {})
    assert read(comma, **names) == read(point, **names)


def test_other_readers() -> None:
    assert distance_m("27,4 m", what="--headland") == pytest.approx(27.4)
    assert distance_m("0,0 m", what="--headland") == 0
    assert parse_price("1,55/gal").value == 1.55
    assert drill_typed(" 7,5in ") == "7.5in"


def test_what_may_be_thousands_or_two_counts_is_asked_about() -> None:
    with pytest.raises(InputError, match=r"--gap '1,250mm' has a comma; .* or 1\.250mm if"):
        units.length_mm("1,250mm", what="--gap")
    with pytest.raises(InputError, match="'12,32' has a comma"):  # plants and shoots?
        counted("12,32", what="--plants", apart="")


def test_options_take_it(tmp_path: Path) -> None:
    """--row-spacing is compared, --tissue is in percent; and count reads --gap before photos."""
    given = write(tmp_path / "c.json", counts([entry(n) for n in range(1, 7)]))
    out = tmp_path / "n.json"
    options = ("--rules", "common-practice", "--stage", "Feekes 5", "--json", out)
    ran = CliRunner().invoke(
        app, [*map(str, ("nitrogen", given, *options)), "--tissue", "3,6", "--row-spacing", "7,5in"]
    )
    assert ran.exit_code == 0, ran.output
    assert json.loads(out.read_text("utf-8"))["tissue"]["percent_n"] == 3.6
    wrong = CliRunner().invoke(app, ["nitrogen", str(given), "--tissue", "much"])
    assert wrong.exit_code == 2
    assert "--tissue" in wrong.output
    nothing = str(tmp_path / "none")
    ran = CliRunner().invoke(app, ["count", nothing, "--area", "square:12in", "--gap", "7,5in"])
    assert ran.exit_code
    assert "comma" not in ran.output
    assert nothing in ran.output
