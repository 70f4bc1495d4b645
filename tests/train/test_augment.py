"""Random views: points follow their pixels, colours stay colours, one seed gives one batch."""

from __future__ import annotations

import pytest
import torch

from tillercount.train.augment import crop_to_canvas, move_points, photometric, warp


def _rng(seed: int = 0) -> torch.Generator:
    return torch.Generator().manual_seed(seed)


@pytest.mark.parametrize("seed", range(4))
def test_points_follow_their_pixels(seed: int) -> None:
    """A bright blob on the canvas is found again at its moved point."""
    n, canvas_px, crop_px = 6, 200, 160
    maps = crop_to_canvas(n, crop_px, canvas_px, _rng(seed), stray_px=0)
    point = torch.tensor([93.0, 110.0])
    line = torch.arange(canvas_px, dtype=torch.float32)
    blob = torch.exp(-((line[None] - point[0]) ** 2 + (line[:, None] - point[1]) ** 2) / 18)
    seen = warp(blob.expand(n, 1, -1, -1), maps, crop_px)[:, 0]
    moved = move_points(point.expand(n, 1, 2), maps)[:, 0]
    grid = torch.arange(crop_px, dtype=torch.float32)
    checked = 0
    for image, (x, y) in zip(seen, moved.tolist(), strict=True):
        if not (15 < x < crop_px - 15 and 15 < y < crop_px - 15):
            continue
        cx = float((image.sum(0) * grid).sum() / image.sum())
        cy = float((image.sum(1) * grid).sum() / image.sum())
        assert cx == pytest.approx(x, abs=0.2)
        assert cy == pytest.approx(y, abs=0.2)
        checked += 1
    assert checked >= 3


def test_half_of_the_views_are_mirrored_and_scales_stay_in_range() -> None:
    maps = crop_to_canvas(400, 64, 256, _rng(), scale=(0.8, 1.25), perspective=0)
    area = torch.linalg.det(maps[:, :2, :2])
    assert 0.4 < (area < 0).float().mean() < 0.6
    assert (area.abs() > 0.79**2).all()
    assert (area.abs() < 1.26**2).all()


def test_coarse_cells_sit_at_the_middle_of_their_pixels() -> None:
    """With the identity map, a cell of 2 px is the mean of its pixels on a slope."""
    slope = torch.arange(32, dtype=torch.float32).expand(1, 1, 32, 32).contiguous()
    same = torch.eye(3)[None]
    cells = warp(slope, same, 32, cell_px=2)
    torch.testing.assert_close(cells, torch.nn.functional.avg_pool2d(slope, 2), atol=1e-4, rtol=0)


def test_light_lens_and_file_keep_pictures_in_range_and_recognisable() -> None:
    """Values stay within 0 and 1, the input isn't touched, and light stays light."""
    torch.manual_seed(0)
    images = torch.nn.functional.interpolate(torch.rand(16, 3, 16, 16), (128, 128), mode="bilinear")
    before = images.clone()
    changed = photometric(images, _rng(3))
    assert torch.equal(images, before)
    assert changed.shape == images.shape
    assert torch.isfinite(changed).all()
    assert changed.min() >= 0
    assert changed.max() <= 1
    flat = torch.stack([images.flatten(1), changed.flatten(1)])
    flat = flat - flat.mean(2, keepdim=True)
    alike = (flat[0] * flat[1]).sum(1) / (flat[0].norm(dim=1) * flat[1].norm(dim=1))
    assert alike.median() > 0.7
    assert (changed - images).abs().mean((1, 2, 3)).median() > 0.02


def test_one_seed_gives_one_batch() -> None:
    images = torch.rand(4, 3, 64, 64)
    assert torch.equal(photometric(images, _rng(5)), photometric(images, _rng(5)))
    assert not torch.equal(photometric(images, _rng(5)), photometric(images, _rng(6)))


def test_few_images_become_coarse_by_all_factors_and_pass_through_a_file_in_turn() -> None:
    """Real photos come six to a batch: what befalls a part of it must reach each place in time."""
    from tillercount.train.augment import _COARSER, _coarse, _file

    rng = torch.Generator().manual_seed(1)
    images = torch.rand((6, 3, 64, 64), generator=rng)
    left: dict[int, set[float]] = {i: set() for i in range(6)}
    filed = torch.zeros(6)
    for turn in range(20):
        detail, whole = _coarse(images, turn).std((1, 2, 3)), images.std((1, 2, 3))
        for i in range(6):
            if detail[i] < 0.98 * whole[i]:
                left[i].add(round(float(detail[i]), 3))
        filed += (_file(images, rng, turn) != images).flatten(1).any(1).float()
    assert all(len(kept) == len(_COARSER) for kept in left.values())
    assert torch.equal(filed, torch.full((6,), 10.0))
