"""What the network says about one top view."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tillercount.model.things import Resemblance

__all__ = ["BLOCK_PX", "InsideCount", "PlantMaps", "block_share"]

BLOCK_PX = 16

Float = NDArray[np.float32]


@dataclass(frozen=True)
class InsideCount:
    """Expected plants and shoots in a region, and the network's own variance of each.

    ``other_plants``: weeds of any kind, without a variance; None where the network doesn't count
    them.
    """

    plants: float
    shoots: float
    plants_variance: float
    shoots_variance: float
    other_plants: float | None = None


@dataclass(frozen=True)
class PlantMaps:
    """Maps and points of one top view of ``height_px`` x ``width_px``.

    Attributes
    ----------
    classes : ndarray
        (5, ceil(h/4), ceil(w/4)) float32 probabilities of soil, residue, crop, other plants and
        frame.
    fine_classes : ndarray
        The same at (5, ceil(h/2), ceil(w/2)), for maps that are drawn or measured finely.
    plant_points, shoot_points : ndarray
        (N, 3) float64: x, y in top-view pixels (the centre of the top-left pixel is (0, 0)) and
        score; what the network sees.
    plant_density, shoot_density : ndarray
        (ceil(h/16), ceil(w/16)) float32: expected number of bases in each block of 16 x 16
        pixels; what the network infers, hidden ones included.
    plant_var, shoot_var : ndarray
        Variance that each block adds to the count of a region.
    embedding : ndarray
        (E,) description of the whole view, for the measure of novelty.
    novelty : float
        How unlike the training pictures the view is; above 1 is unusual, NaN if the model
        carries no yardstick.
    other_density : ndarray or None
        Like `plant_density`, of plants that aren't the crop; None where the network doesn't count
        them.
    like : Resemblance or None
        What else than a young stand the view resembles most, and how much; None if the model was
        shown nothing else.
    """

    height_px: int
    width_px: int
    mm_per_px: float
    classes: Float
    fine_classes: Float
    plant_points: NDArray[np.float64]
    shoot_points: NDArray[np.float64]
    plant_density: Float
    shoot_density: Float
    plant_var: Float
    shoot_var: Float
    embedding: Float
    novelty: float
    other_density: Float | None = None
    like: Resemblance | None = None

    @property
    def strangeness(self) -> float:
        """The larger of novelty and likeness to another thing; above 1 the view is unusual."""
        return self.novelty if self.like is None else float(np.fmax(self.novelty, self.like.much))

    def count_inside(self, inside: NDArray[np.floating] | NDArray[np.bool_]) -> InsideCount:
        """Sum over the region ``inside`` (h, w), the share 0 to 1 of each pixel that belongs to it.

        Raises
        ------
        ValueError
            ``inside`` isn't of the top view's size.
        """
        if inside.shape != (self.height_px, self.width_px):
            raise ValueError(
                f"inside has shape {inside.shape}; the top view is "
                f"{self.height_px} x {self.width_px} px"
            )
        share = block_share(inside)
        return InsideCount(
            plants=float((self.plant_density * share).sum(dtype=np.float64)),
            shoots=float((self.shoot_density * share).sum(dtype=np.float64)),
            plants_variance=float((self.plant_var * share).sum(dtype=np.float64)),
            shoots_variance=float((self.shoot_var * share).sum(dtype=np.float64)),
            other_plants=None
            if self.other_density is None
            else float((self.other_density * share).sum(dtype=np.float64)),
        )


def block_share(inside: NDArray[np.floating] | NDArray[np.bool_]) -> Float:
    """Share (ceil(h/16), ceil(w/16)) float32 of each block that lies in the region (h, w)."""
    height, width = inside.shape
    rows, columns = -(-height // BLOCK_PX), -(-width // BLOCK_PX)
    padded = np.zeros((rows * BLOCK_PX, columns * BLOCK_PX), dtype=np.float32)
    padded[:height, :width] = inside
    cells = padded.reshape(rows, BLOCK_PX, columns, BLOCK_PX)
    return cells.mean(axis=(1, 3), dtype=np.float32)
