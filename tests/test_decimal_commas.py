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


PAIRS = {
    parse_kernels: ("30,35", "30.35", "'30-35' for both"),
    rate_lb_ac: ("30,40 lb/ac", "30.40", "'30 lb/ac'"),
    units.bu_per_ac: ("80,90 bu/ac", "80.90", "'80 bu/ac'"),
    units.density_per_m2: ("25,30/ft2", "25.30", "'25/ft2'"),
    air_f: ("50,60 F", "50.60", "'50 F'"),
}


@pytest.mark.parametrize("read", PAIRS)
def test_what_may_be_two_numbers_is_asked_about(read: Callable[..., object]) -> None:
    """People give ranges of all of these."""
    typed, one, two = PAIRS[read]
    low, high = typed[:2], typed[3:5]
    said = rf"'{typed}' may be {one}, or two numbers, {low} and {high}; write '{one}.*', or .*{two}"
    with pytest.raises(InputError, match=said):
        read(typed, what="that") if read is not air_f else read(typed)


@pytest.mark.parametrize("typed", ["30,25-35,75", "30-35,75"])
def test_ends_of_a_range_are_asked_about_too(typed: str) -> None:
    with pytest.raises(InputError, match=r"may be 3\d\.\d5, or two numbers"):
        parse_kernels(typed, what="--kernels")


@pytest.mark.parametrize("typed", ["8,5", "7,5", "3,1", "0,25", "112,5", "5,25"])
def test_what_can_only_be_a_decimal_is_none_of_them(typed: str) -> None:
    value = float(typed.replace(",", "."))
    assert rate_lb_ac(f"{typed} lb/ac") == value
    assert units.bu_per_ac(f"{typed} bu/ac") == value
    assert air_f(f"{typed} F") == value
    assert units.length_mm("19,25in") == units.length_mm("19.25in")  # nobody gives a range there


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
