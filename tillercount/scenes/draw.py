"""Draw one whole scene from documented distributions with one seed."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.camera import Camera
from tillercount.scenes.emergence import Emergence, draw_emergence
from tillercount.scenes.form import Form, draw_form
from tillercount.scenes.frames import Frame, decoys, hoop, rectangle, row_stick
from tillercount.scenes.ground import Ground, litter, make_ground, soil_colour, stones
from tillercount.scenes.harm import draw_harm, harm_params
from tillercount.scenes.light import Light, draw_light
from tillercount.scenes.mesh import Mesh, join
from tillercount.scenes.noise import lab_to_linear
from tillercount.scenes.others import OTHER_SPECIES
from tillercount.scenes.plant import Shoots, grow
from tillercount.scenes.species import SPECIES
from tillercount.scenes.tillers import FREED, free_of_stage
from tillercount.scenes.views import distance_for, person, reach_mm, stand_over
from tillercount.scenes.weeds import grow_weeds

__all__ = ["Scene", "draw_scene", "place_plants"]

IN = 25.4
FT2 = 0.09290304
ROW_SPACINGS_MM = (4 * IN, 5 * IN, 6 * IN, 6.5 * IN, 7 * IN, 7.5 * IN, 7.5 * IN, 7.5 * IN,
                   8 * IN, 10 * IN, 125.0, 150.0)


@dataclass(frozen=True)
class Scene:
    """Everything that is in a picture, and the truth about it.

    Attributes
    ----------
    parts : meshes by name (crop, weeds, litter, stones, frame, decoys, person)
    plants_mm : ndarray (N, 2) plant bases; shoots : all shoots
    weeds_mm : ndarray (K, 2); weed_kinds : 0 broadleaf, 1 grass
    frame : the marking frame, or None
    area : kind and size of the marked area, as in the JSON that goes with a photo
    params : what was drawn, for the record
    view : 0, or the number of another view of the same stand
    """

    seed: int
    ground: Ground
    parts: dict[str, Mesh]
    plants_mm: NDArray[np.float64]
    shoots: Shoots
    weeds_mm: NDArray[np.float64]
    weed_kinds: NDArray[np.int64]
    frame: Frame | None
    area: dict[str, Any]
    light: Light
    camera: Camera
    params: dict[str, Any] = field(default_factory=dict)
    view: int = 0


def place_plants(
    per_m2: float, row_spacing_mm: float | None, row_angle: float, row_offset_mm: float,
    reach_mm: float, rng: np.random.Generator, *, scatter_mm: float, evenness: float, gaps: float,
) -> NDArray[np.float64]:
    """Plant bases (N, 2) over a square of half side `reach_mm`.

    Gaps along a row are independent gamma (shape `evenness`; 1 is Poisson), after Liu et al.
    2017, Plant Methods 13:38. `row_spacing_mm` None gives a broadcast stand. `gaps` is the share
    of row length that the drill or the winter left empty.
    """
    far = reach_mm * 1.5
    if row_spacing_mm is None:
        count = rng.poisson(per_m2 * (2 * far) ** 2 / 1e6)
        spots = rng.uniform(-far, far, (count, 2))
    else:
        mean = 1e6 / (per_m2 * row_spacing_mm)
        rows = []
        first = np.floor((-far - row_offset_mm) / row_spacing_mm)
        last = np.ceil((far - row_offset_mm) / row_spacing_mm)
        for k in np.arange(first, last + 1):
            n = int(2 * far / mean * 1.5) + 20
            along = -far - mean * rng.random() + np.cumsum(rng.gamma(evenness, mean / evenness, n))
            along = along[along < far]
            across = row_offset_mm + k * row_spacing_mm + rng.normal(0, scatter_mm, len(along))
            rows.append(np.stack([along, across], -1))
        spots = np.concatenate(rows)
    if gaps > 0 and len(spots):
        holes = rng.poisson(gaps * 8)
        for _ in range(holes):
            c = rng.uniform(-far, far, 2)
            size = rng.uniform(40, 160)
            spots = spots[np.linalg.norm((spots - c) / [2.0, 1.0], axis=1) > size / 2]
    c, s = np.cos(row_angle), np.sin(row_angle)
    turned = np.stack([spots[:, 0] * c - spots[:, 1] * s, spots[:, 0] * s + spots[:, 1] * c], -1)
    return np.asarray(turned[np.abs(turned).max(1) < reach_mm])


def _draw_area(rng: np.random.Generator, kind: str, spacing: float | None) -> dict[str, Any]:
    if kind == "square":
        side = rng.choice([12 * IN, 12 * IN, 12 * IN, 300.0, 500.0, 250.0, rng.uniform(220, 520)])
        return {"kind": kind, "text": f"square:{side:.1f}mm", "width_mm": side, "length_mm": side}
    if kind == "rect":
        w, n = rng.uniform(180, 380), rng.uniform(1.2, 2.2)
        return {"kind": kind, "text": f"rect:{w:.1f}mmx{w * n:.1f}mm", "width_mm": w,
                "length_mm": w * n}
    if kind == "hoop":
        d = rng.choice([343.9, 343.9, 343.9, 357.0, 564.2, rng.uniform(280, 600)])
        return {"kind": kind, "text": f"hoop:{d:.1f}mm", "width_mm": d, "length_mm": d}
    if kind == "row":
        space = spacing or 7.5 * IN
        length = rng.choice([144 * IN * IN / space, 12 * IN, 500.0])
        return {"kind": kind, "text": f"row:{length:.1f}mm/{space:.1f}mm", "width_mm": length,
                "length_mm": space}
    side = rng.uniform(280, 420)
    return {"kind": "none", "text": "", "width_mm": side, "length_mm": side}


def draw_scene(
    seed: int, *, width: int = 1280, height: int = 960, kind: str | None = None,
    textures: list[NDArray[np.float32]] | None = None, overrides: dict[str, Any] | None = None,
) -> Scene:
    """Draw a scene.

    Parameters
    ----------
    seed : the only source of chance
    kind : ``square``, ``rect``, ``hoop``, ``row`` or ``none``; drawn if not given
    textures : linear pictures of real ground (n, n, 3), mean about 1, to mix into the soil
    overrides : values for any of the drawn parameters (see `Scene.params`), for tests and demos
    """
    rng = np.random.default_rng(seed)
    kind = kind or str(rng.choice(["square", "hoop", "rect", "row", "none"],
                                  p=[0.36, 0.34, 0.08, 0.12, 0.10]))
    p: dict[str, Any] = {
        "species": str(rng.choice(list(SPECIES), p=[0.72, 0.12, 0.06, 0.05, 0.05])),
        # decision borders get twice their share
        "plants_per_ft2": float(
            rng.uniform(10, 32) if rng.random() < 0.5 else np.exp(rng.uniform(1.0, 3.95))
        ),
        **draw_emergence(rng),
        # about what was measured at each stage, one stand in four far from it (`tillers.FREED` too)
        "tillering": float(np.clip(rng.lognormal(0, 0.3), 0.3, 1.6) if rng.random() < 0.75
                           else rng.uniform(0.1, 1.5)),
        "tillers_early": float(np.clip(rng.normal(0.1, 0.5), -0.9, 1.6)),
        "hug": float(rng.uniform(0.1, 1.4)),
        # half an inch to an inch and more, much the same for any sowing depth (common practice)
        "crown_mm": float(rng.uniform(0, 32)),
        "prostrate": float(rng.beta(1.2, 2.5)),
        # cold makes leaves short however many there are
        "size": float(np.exp(rng.uniform(np.log(0.42), np.log(1.5)))),
        "vigour_sd": float(rng.uniform(0.08, 0.3)),
        "dead_tips": float(rng.beta(1, 2.2)),
        # a leaf lives for some four to five leaves more, less in a hard winter (common practice)
        "leaf_life": float(rng.uniform(2.3, 5.5)) if rng.random() < 0.65 else 99.0,
        "leaf_lightness": float(rng.uniform(26, 56)),
        "leaf_chroma": float(np.clip(rng.normal(20, 7), 7, 42)),
        "leaf_hue": float(rng.uniform(112, 158)),
        "row_spacing_mm": None if rng.random() < 0.06 else float(rng.choice(ROW_SPACINGS_MM)),
        "row_scatter_mm": float(rng.uniform(3, 14)),
        # about 1 behind a drill (Liu et al. 2017, Plant Methods 13:38), more where seed is placed
        "evenness": float(np.exp(rng.uniform(np.log(0.75), np.log(2.2)) if rng.random() < 0.6
                                 else rng.uniform(np.log(2.0), np.log(12.0)))),
        "gaps": float(rng.uniform(0, 1) ** 2),
        "roughness": float(rng.beta(1.3, 1.6)),
        "furrow_mm": float(rng.choice([0.0, rng.uniform(2, 16)])),
        "wetness": float(rng.uniform(0, 1) ** 2),
        "snow": float(rng.choice([0.0, rng.uniform(0.02, 0.35)], p=[0.93, 0.07])),
        "frost": float(rng.choice([0.0, rng.uniform(0.1, 0.6)], p=[0.94, 0.06])),
        "litter": str(rng.choice(["straw", "corn", "soybean"], p=[0.55, 0.25, 0.2])),
        "litter_per_m2": float(rng.choice([0.0, np.exp(rng.uniform(2.5, 7.2))], p=[0.3, 0.7])),
        "stones_per_m2": float(rng.choice([0.0, np.exp(rng.uniform(2, 7.2))], p=[0.4, 0.6])),
        "broadleaf_per_m2": float(rng.choice([0.0, np.exp(rng.uniform(1.5, 5.5))], p=[0.5, 0.5])),
        "grass_per_m2": float(rng.choice([0.0, np.exp(rng.uniform(1.5, 5.0))], p=[0.7, 0.3])),
        "weed_size": float(rng.uniform(0.6, 1.3)),
        "fill": float(rng.choice([rng.uniform(0.62, 0.95), rng.uniform(0.4, 0.62)],
                                 p=[0.8, 0.2])),
        # what the phone's whole photo would show; a smaller picture is a window of it
        "lens_mm": float(rng.choice([rng.uniform(24, 28), rng.uniform(46, 58),
                                     rng.uniform(28, 90)], p=[0.6, 0.25, 0.15])),
        "photo_fill": float(rng.uniform(0.24, 0.95)),
        "tilt_deg": float(abs(rng.normal(0, 6)) if rng.random() < 0.8 else rng.uniform(8, 25)),
        "shift": float(rng.choice([rng.uniform(0, 0.25), rng.uniform(0.25, 0.7)], p=[0.85, 0.15])),
        "photographer": bool(rng.random() < 0.45),
        "decoys": int(rng.choice([0, 1, 2])) if kind != "none" else int(rng.integers(1, 5)),
        "lost_side": None,
        "turn": float(rng.uniform(0, 2 * np.pi)),
    }
    if rng.random() < 0.75:
        p["leaf_hue"] = float(rng.normal(128, 8))
    p["astray_deg"] = float(rng.uniform(45, 135))
    p["azimuth_sd"] = float(rng.uniform(0.25, 0.75))
    # where every tiller is smaller than its main stem, a network learns to know plants by that, and
    # takes each tiller that has caught up for a plant of its own
    p["alike"] = float(rng.choice([0.0, rng.uniform(0, 1)], p=[0.35, 0.65]))
    p["form"] = asdict(draw_form(rng))
    if rng.random() < FREED:
        p |= free_of_stage(p["haun"], rng)
    p |= {**harm_params(rng), **soil_colour(rng), **(overrides or {})}
    form = Form(**p["form"])
    p["form"] = asdict(form)
    if kind == "row" and p["row_spacing_mm"] is None:
        p["row_spacing_mm"] = 7.5 * IN
    area = p.get("area") or _draw_area(rng, kind, p["row_spacing_mm"])
    if "distance_mm" not in p:
        p["distance_mm"] = distance_for(p["lens_mm"], p["photo_fill"], area)

    camera = stand_over(p, area, width, height, rng)
    reach = reach_mm(camera)

    row_angle = float(p.get("row_angle", rng.uniform(0, np.pi)))
    spacing = p["row_spacing_mm"]
    offset = 0.0 if kind == "row" else float(rng.uniform(-0.5, 0.5) * (spacing or 0.0))
    ground = make_ground(
        reach + 40, rng, roughness=p["roughness"], row_angle=row_angle,
        row_spacing_mm=spacing or 190.5, furrow_mm=p["furrow_mm"], lightness=p["soil_lightness"],
        chroma=p["soil_chroma"], hue_deg=p["soil_hue"], wetness=p["wetness"],
        snow=p["snow"],
        texture=None if not textures or rng.random() < 0.5
        else textures[int(rng.integers(len(textures)))],
    )
    plants = place_plants(
        p["plants_per_ft2"] / FT2, spacing, row_angle, offset, reach, rng,
        scatter_mm=p["row_scatter_mm"], evenness=p["evenness"], gaps=p["gaps"],
    )[:1500]
    harm = draw_harm(plants, row_angle, p, rng)
    look: dict[str, Any] = {
        "species": (SPECIES | OTHER_SPECIES)[p["species"]], "vigour_sd": p["vigour_sd"],
        "hug": p["hug"], "tillers_early": p["tillers_early"], "crown_mm": p["crown_mm"],
        "leaf_life": p["leaf_life"], "astray_deg": p["astray_deg"], "azimuth_sd": p["azimuth_sd"],
        "alike": p["alike"], "form": form,
        "dust_colour": lab_to_linear(p["soil_lightness"], p["soil_chroma"], p["soil_hue"]),
    }
    remains, _ = grow(
        plants[harm.dead], ground.height_of, rng, emergence=Emergence(min(p["haun"], 3.5)),
        tillering=0.6, prostrate=0.95, size=0.8 * p["size"], dead_tips=1.0,
        lightness=float(rng.uniform(40, 66)), chroma=float(rng.uniform(14, 28)),
        hue_deg=float(rng.uniform(68, 92)), **look,
    )
    plants = plants[~harm.dead]
    crop, shoots = grow(
        plants, ground.height_of, rng, tillering=p["tillering"],
        emergence=Emergence(p["haun"], p["emergence_spread"], p["late"], p["late_by"]),
        prostrate=p["prostrate"], size=p["size"], dead_tips=p["dead_tips"],
        lightness=p["leaf_lightness"], chroma=p["leaf_chroma"], hue_deg=p["leaf_hue"],
        harm=harm.living(), **look,
    )
    if p["frost"] > 0:
        crop = _frosted(crop, p["frost"], rng)
    m2 = (2 * reach) ** 2 / 1e6
    kinds = np.concatenate([
        np.zeros(min(rng.poisson(p["broadleaf_per_m2"] * m2), 300), np.int64),
        np.ones(min(rng.poisson(p["grass_per_m2"] * m2), 200), np.int64),
    ])
    weeds_at = rng.uniform(-reach, reach, (len(kinds), 2))
    weeds = grow_weeds(weeds_at, kinds, ground.height_of, rng, size=p["weed_size"],
                       crop_width=form.broad)

    frame: Frame | None = None
    if kind in ("square", "rect"):
        frame = rectangle(area["width_mm"], area["length_mm"], ground, rng,
                          lost_side=p["lost_side"])
    elif kind == "hoop":
        frame = hoop(area["width_mm"], ground, rng)
    elif kind == "row":
        frame = row_stick(area["width_mm"], area["length_mm"], row_angle, offset, ground, rng)
    parts = {
        "crop": crop,
        "weeds": weeds,
        "litter": join([
            litter(ground, rng, kind=p["litter"], per_m2=p["litter_per_m2"], reach_mm=reach),
            remains,
        ]),
        "stones": stones(ground, rng, per_m2=p["stones_per_m2"], reach_mm=reach),
        "frame": frame.mesh if frame else Mesh.empty(),
        "decoys": decoys(ground, rng, reach, p["decoys"], keep_off_mm=0.0 if frame is None
                         else max(area["width_mm"], area["length_mm"]) / 2 + frame.tube_mm + 15),
        "person": person(camera, rng) if p["photographer"] else Mesh.empty(),
    }
    light = draw_light(rng)
    if "sun_height_deg" in p:
        light = Light(p["sun_height_deg"], light.sun_azimuth, light.sun, light.sky, light.haze)
    return Scene(seed, ground, parts, plants, shoots, weeds_at, kinds, frame, area, light, camera,
                 {"kind": kind, "row_angle": row_angle, "row_offset_mm": offset, **p})


def _frosted(mesh: Mesh, share: float, rng: np.random.Generator) -> Mesh:
    """Hoar frost on the leaves: whiter, by patches, most so where they lie open to the sky."""
    v = mesh.vertices
    patch = 0.6 + 0.4 * np.sin(v[:, 0] / 23 + rng.uniform(0, 6)) * np.sin(v[:, 1] / 31)
    cover = np.clip(share * patch + rng.normal(0, 0.08, len(v)), 0, 0.85)[:, None]
    colours = mesh.colours * (1 - cover) + np.array([0.82, 0.85, 0.9]) * cover
    return Mesh(v, mesh.faces, colours.astype(np.float32), mesh.owners)
