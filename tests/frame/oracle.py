"""The finder's maps as a perfect, or a slightly wrong, finder would draw them."""

from __future__ import annotations

import cv2
import numpy as np

from tillercount.frame.finder import Maps, Picture


def truth_maps(
    picture: Picture,
    classes: np.ndarray,
    inside_px: np.ndarray,
    kind: str,
    *,
    flat: float = 0.0,
    wrong: float = 0.0,
    seed: int = 0,
) -> Maps:
    """Maps from the truth: class map (H, W) and inside edge (N, 2) in photo px.

    ``wrong``: spread of a smooth shift of the logits, in the logits' own unit.
    """
    rng = np.random.default_rng(seed)
    h, w = picture.shape
    share = 640 / max(h, w)
    gw, gh = -(-round(w * share) // 2), -(-round(h * share) // 2)

    def logit(p: np.ndarray, blur: float) -> np.ndarray:
        p = cv2.GaussianBlur(cv2.resize(p, (gw, gh), interpolation=cv2.INTER_AREA), (0, 0), blur)
        p = np.clip(p, 0.003, 0.997)
        noise = cv2.GaussianBlur(rng.normal(size=(gh, gw)), (0, 0), 4) * 14 * wrong
        return (np.log(p / (1 - p)) + noise).astype(np.float32)

    seen = (classes == 4).astype(np.float32)
    region = np.zeros(classes.shape, np.float32)
    if len(inside_px):
        cv2.fillPoly(region, [np.round(inside_px * 16).astype(np.int32)], 1.0, 8, 4)
    nothing = np.zeros(classes.shape, np.float32)
    row = kind == "row"
    x, y = gw / w, gh / h
    to_grid = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1.0]])
    kinds = dict.fromkeys(("none", "quad", "hoop", "row"), 0.01)
    kinds[kind] = 0.97
    return Maps(
        logit(nothing if row else seen, 0.7),
        logit(seen if row else nothing, 0.7),
        logit(nothing if row else region, 1.0),
        logit(region if row else nothing, 3.0),
        to_grid,
        kinds,
        flat,
    )
