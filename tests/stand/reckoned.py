"""Figures of an assessment worked out again from its JSON, by other means than the package's."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import optimize, stats

__all__ = ["between", "factor", "under"]


def between(mean: dict[str, Any], log_ratio: float) -> float:
    """Probability that truth over mean is below exp(log_ratio): a sum over 2,001 spot-to-spot CVs.

    ``mean`` are the figures of the step with the field's mean.
    """
    said, n = mean["between_spots"], mean["spots"]
    u = np.linspace(-3, 3, 2001)
    cv = np.maximum(said["least_cv"], said["middle_cv"] * np.exp(said["log_sd"] * u))
    own = cv / np.sqrt(1 + cv**2 / n)  # what n gamma counts have between them
    seen = own ** -(n - 1.0) * np.exp(
        -(n - 1) * (said["seen_cv"] or 0) ** 2 / (2 * own**2)
    )
    weight = seen * np.exp(-(u**2) / 2)
    sd = np.sqrt(np.log1p(cv**2 / n) + np.log1p(said["others_rel"] ** 2))
    return float((weight * stats.norm.cdf(log_ratio / sd)).sum() / weight.sum())


def under(mean: dict[str, Any], density: float) -> float:
    """Probability that the truth is below ``density``: `between`, or, where that isn't known,
    Student's t before the cut at zero."""
    if mean["between_spots"] is not None:
        return between(mean, float(np.log(density / mean["mean"]))) if density > 0 else 0.0
    df = np.inf if mean["df"] is None else mean["df"]
    return float(stats.t.cdf((density - mean["mean"]) / mean["scale"], df))


def factor(mean: dict[str, Any], upper: float) -> float:
    """Truth over mean that is stayed below with probability ``upper``."""
    return float(np.exp(optimize.brentq(lambda x: between(mean, x) - upper, 0.0, 5.0)))
