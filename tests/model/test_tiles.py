"""Tiles give the same answer as the whole."""

from __future__ import annotations

import pytest
import torch
import torch.nn.functional as F
from hypothesis import given
from hypothesis import strategies as st

from tillercount.model.network import NetworkConfig, build
from tillercount.model.tiles import pad_to_stride, plan_tiles, run_tiled, run_views


class Local(torch.nn.Module):
    """A stand-in whose outputs depend on nothing but the pixels under each cell."""

    def forward(self, x: torch.Tensor) -> dict[str, torch.Tensor]:
        two, four, block = (F.avg_pool2d(x, k) for k in (2, 4, 16))
        return {
            "classes": torch.cat([two, two[:, :2]], 1),
            "heat": four[:, :2],
            "offset": torch.cat([four, four[:, :1]], 1),
            "rate": block[:, :2] ** 2,
            "spread": block[:, 1:] ** 2,
            "embedding": x.mean((2, 3)),
        }


@given(
    st.integers(1, 60),
    st.integers(1, 60),
    st.sampled_from([256, 320, 512]),
    st.sampled_from([0, 32, 96]),
)
def test_cores_cover_every_pixel_once(rows: int, columns: int, tile: int, overlap: int) -> None:
    """Cores part the picture; reads stay inside it, reach far enough and fit the tile."""
    height, width = rows * 32, columns * 32
    covered = torch.zeros(rows, columns, dtype=torch.int)
    for t in plan_tiles(height, width, tile, overlap):
        covered[t.core_top // 32 : t.core_bottom // 32, t.core_left // 32 : t.core_right // 32] += 1
        assert 0 <= t.top <= t.core_top < t.core_bottom <= t.bottom <= height
        assert 0 <= t.left <= t.core_left < t.core_right <= t.right <= width
        assert t.bottom - t.top <= tile
        assert t.right - t.left <= tile
        assert t.top == 0 or t.core_top - t.top == overlap
        assert t.right == width or t.right - t.core_right == overlap
    assert (covered == 1).all()


@pytest.mark.parametrize(
    ("height", "tile", "overlap"), [(100, 512, 64), (64, 100, 32), (64, 64, 32)]
)
def test_sizes_that_make_no_tiles_are_refused(height: int, tile: int, overlap: int) -> None:
    """Nothing is rounded silently."""
    with pytest.raises(ValueError, match="px"):
        plan_tiles(height, 64, tile, overlap)


def test_tiled_equals_whole_for_a_local_network() -> None:
    """Every cell lands where it belongs."""
    x = torch.rand(3, 480, 736)
    whole = run_tiled(Local(), x, tile_px=1024)
    tiled = run_tiled(Local(), x, tile_px=256, overlap_px=32)
    for name in ("classes", "heat", "offset", "rate", "spread"):
        torch.testing.assert_close(tiled[name], whole[name])


def test_tiled_equals_whole_within_one_percent() -> None:
    """The real network: the overlap holds enough context that sums agree within 1 %."""
    torch.manual_seed(0)
    network = build().eval()
    with torch.inference_mode():
        x = F.interpolate(torch.randn(1, 3, 80, 80), (640, 640), mode="bilinear")[0]
        whole = run_tiled(network, x, tile_px=1024)
        tiled = run_tiled(network, x, tile_px=512, overlap_px=96)
    sums = [output["rate"].sum((1, 2)) for output in (whole, tiled)]
    torch.testing.assert_close(sums[1], sums[0], rtol=0.01, atol=0)
    assert (whole["classes"] - tiled["classes"]).abs().mean() < 0.01


def test_pieces_have_the_context_of_the_whole_picture() -> None:
    torch.manual_seed(1)
    network = build(NetworkConfig(widths=(8, 8, 8, 8, 8), blocks=1, neck=8, context=2)).eval()
    for layer in (network.context.last, network.rate):
        torch.nn.init.normal_(layer.weight, std=1.0)
    # dark on one side and bright on the other: each half has another context than the whole
    image = torch.rand(3, 256, 640) + torch.linspace(-3, 3, 640)
    with torch.inference_mode():
        whole = {k: v[0] for k, v in network(image[None]).items()}
        tiled = run_tiled(network, image, tile_px=416, overlap_px=160)
        halves = image[None].split(320, dim=-1)
        apart = [float(network(half)["rate"].sum()) for half in halves]
    total = whole["rate"].sum()
    assert tiled["rate"].sum() == pytest.approx(float(total), rel=2e-3)
    assert abs(sum(apart) / float(total) - 1) > 0.01


@pytest.mark.parametrize("views", [2, 4])
def test_mirrored_views_are_turned_back(views: int) -> None:
    """For a network that treats mirrored pictures alike, averaging views changes nothing."""
    x = torch.rand(3, 96, 64)
    one, more = run_views(Local(), x, 1), run_views(Local(), x, views)
    for name in ("classes", "heat", "rate", "spread", "embedding"):
        torch.testing.assert_close(more[name], one[name])


def test_offsets_change_sign_with_the_mirror() -> None:
    """An offset that always points right averages to nothing over a picture and its mirror."""

    class Right(Local):
        def forward(self, x: torch.Tensor) -> dict[str, torch.Tensor]:
            output = super().forward(x)
            output["offset"] = torch.ones_like(output["offset"])
            return output

    assert run_views(Right(), torch.rand(3, 64, 64), 2)["offset"].abs().max() == 0


def test_three_views_are_refused() -> None:
    with pytest.raises(ValueError, match="views"):
        run_views(Local(), torch.rand(3, 32, 32), 3)


def test_padding_adds_below_and_right() -> None:
    """The picture keeps its place; what is added is zero."""
    x = torch.ones(3, 40, 64)
    padded = pad_to_stride(x)
    assert padded.shape == (3, 64, 64)
    assert padded[:, :40].min() == 1
    assert padded[:, 40:].abs().max() == 0
