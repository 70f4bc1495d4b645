"""A small run of the sampling simulation; its full figures come from the script itself."""

from __future__ import annotations

import importlib.util
import math
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

SCRIPT = Path(__file__).parents[2] / "scripts" / "simulate_sampling.py"


@pytest.fixture(scope="module")
def simulation() -> ModuleType:
    spec = importlib.util.spec_from_file_location("simulate_sampling", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


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
def test_few_counts_are_as_stated(simulation: ModuleType, shape: str) -> None:
    counts = simulation.few_counts(shape, 0.5, 60_000, np.random.default_rng(4))
    assert counts.mean() == pytest.approx(24.0, rel=0.02)
    assert counts.std() / counts.mean() == pytest.approx(0.5, rel=0.03)


@pytest.mark.parametrize(("n", "t_alone"), [(1, 0.86), (3, 0.93), (5, 0.92)])
def test_few_spots_hold(simulation: ModuleType, n: int, t_alone: float) -> None:
    """CVs of 15 to 80 %: about 90 % of fields, and no less where the spots happen to look alike."""
    fields = 600
    rows = simulation.few(n, "gamma", fields, np.random.default_rng(40 + n))
    error = 3 * math.sqrt(0.09 / fields)
    assert rows[:, 0].mean() < t_alone
    assert 0.9 - error < rows[:, 1].mean() < 0.96
    assert np.all(rows[:, 1] >= rows[:, 0])  # wherever the t interval holds, so does this one
    alike = rows[rows[:, 2] <= np.quantile(rows[:, 2], 0.25)]
    assert alike[:, 1].mean() > 0.9 - 3 * math.sqrt(0.09 / len(alike))
