"""A small run of the sampling simulation; its full figures come from the script itself."""

from __future__ import annotations

import importlib
import math
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

SCRIPT = Path(__file__).parents[2] / "scripts" / "simulate_sampling.py"


def module_of(name: str) -> ModuleType:
    """A script as a module, which finds the others beside it as if it were run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(SCRIPT.parent)
        return importlib.import_module(name)


@pytest.fixture(scope="module")
def simulation() -> ModuleType:
    return module_of("simulate_sampling")


@pytest.fixture(scope="module")
def few_spots() -> ModuleType:
    return module_of("simulate_few_spots")


def test_fields_are_as_stated(simulation: ModuleType) -> None:
    """Mean, excess over chance and correlation of the simulated counts."""
    case = simulation.Case("x", bias=0.0, bias_sd=0.0, r=0.8, trend=0.0, k=10.0)
    hand, photo = simulation.draw(case, 40_000, np.random.default_rng(1))
    assert hand.mean() == pytest.approx(case.mean, rel=0.01)
    assert hand.var() / hand.mean() == pytest.approx(1 + case.mean / case.k, rel=0.05)
    assert np.corrcoef(hand, photo)[0, 1] == pytest.approx(0.8, abs=0.02)


@pytest.mark.parametrize(("pairs", "method"), [(6, "difference"), (10, "regression")])
def test_intervals_hold(simulation: ModuleType, pairs: int, method: str) -> None:
    """With good photos the interval taken holds in about 90 % and is far narrower than by hand."""
    fields = 400
    tallies, chosen = simulation.fixed(
        simulation.CASES[0], pairs, fields, np.random.default_rng(pairs)
    )
    taken, hand = tallies["as taken"], tallies["hand only"]
    error = math.sqrt(0.09 / fields)
    assert 0.88 - 3 * error < taken.hits / fields < 0.93 + 3 * error
    assert np.mean(taken.widths) < 0.65 * np.mean(hand.widths)
    assert chosen == {method: fields}


def test_intervals_hold_where_photos_look_bad(simulation: ModuleType) -> None:
    """Loose photos (r 0.69), 6 pairs, only the fields in which r comes out too low to show it."""
    tallies, _ = simulation.fixed(simulation.CASES[2], 6, 600, np.random.default_rng(17))
    taken = tallies["taken, low r"]
    assert taken.count > 100
    assert taken.hits / taken.count > 0.9 - 3 * math.sqrt(0.09 / taken.count)


def test_stop_rule_is_seldom_wrong(simulation: ModuleType) -> None:
    """A border 2 % below the truth, looked at after every spot: the plain interval is wrong in a
    quarter of the fields, the stop rule in less than a tenth."""
    fields = 300
    rows = simulation.stopping(simulation.CASES[0], -0.02, fields, np.random.default_rng(3))
    naive, ruled, paired = (row[0] / fields for row in rows.values())
    assert naive > 0.15
    assert ruled < 0.10
    assert paired < 0.10


@pytest.mark.slow
def test_the_script_prints_its_tables() -> None:
    done = subprocess.run(
        [sys.executable, SCRIPT, "--fields", "20", "--case", "useless"],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(SCRIPT.parents[1])},
    )
    assert done.returncode == 0, done.stderr
    assert "as taken" in done.stdout
    assert "stop rule" in done.stdout


@pytest.mark.parametrize("shape", ["gamma", "lognormal", "clumped", "patches"])
def test_few_counts_are_as_stated(few_spots: ModuleType, shape: str) -> None:
    counts = few_spots.few_counts(shape, 0.5, 60_000, np.random.default_rng(4))
    assert counts.mean() == pytest.approx(24.0, rel=0.02)
    assert counts.std() / counts.mean() == pytest.approx(0.5, rel=0.03)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6, 7, 8])
def test_few_spots_hold(few_spots: ModuleType, n: int) -> None:
    """CVs of 15 to 80 %, four kinds of field: 87 to 93 % of fields, and hardly fewer in the quarter
    whose spots happen to look alike, where Student's t interval holds in far fewer."""
    fields = 700
    rows, alike = [], []
    for number, shape in enumerate(few_spots.SHAPES):
        found = few_spots.few(n, shape, fields, np.random.default_rng([40, n, number]))
        rows.append(found)
        alike.append(found[found[:, 2] <= np.quantile(found[:, 2], 0.25)])
    every, same = np.concatenate(rows), np.concatenate(alike)
    assert 0.87 < every[:, 1].mean() < 0.93
    assert same[:, 1].mean() > 0.87 - 3 * math.sqrt(0.1 / len(same))
    assert same[:, 1].mean() > same[:, 0].mean()
    assert np.median(every[:, 4]) < 1.02 * np.median(every[:, 3])  # and no wider


def test_one_spot_holds_nearly_as_often(few_spots: ModuleType) -> None:
    """One spot: 84 to 89 % over the four kinds together; 80 % where a share of the field is bare,
    since a spot that falls on bare ground says nothing of the rest."""
    rows = np.concatenate(
        [
            few_spots.few(1, shape, 700, np.random.default_rng([40, 1, number]))
            for number, shape in enumerate(few_spots.SHAPES)
        ]
    )
    assert 0.84 < rows[:, 1].mean() < 0.89
    assert rows[:, 1].mean() > rows[:, 0].mean() + 0.02
