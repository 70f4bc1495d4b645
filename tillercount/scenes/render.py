"""Path tracing of a scene with Mitsuba 3, and the class of every pixel."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.light import sky_picture

if TYPE_CHECKING:
    from tillercount.scenes.draw import Scene
    from tillercount.scenes.mesh import Mesh

__all__ = ["set_variant", "solid_shapes", "trace"]

# order of the shapes and the class id that each is given in the class map
PARTS = ("crop", "weeds", "litter", "stones", "frame", "decoys")
CLASS_OF = {"ground": 0, "stones": 0, "litter": 1, "crop": 2, "weeds": 3, "frame": 4,
            "decoys": 255}


def set_variant(name: str | None = None) -> str:
    """Choose Mitsuba's variant: the GPU one where it works, else the scalar CPU one."""
    try:
        mi = import_module("mitsuba")
    except ImportError as error:
        from tillercount.errors import InputError

        raise InputError(
            "rendering needs the extra 'scenes': pip install 'tillercount[scenes]'"
        ) from error
    if name is None:
        name = "scalar_rgb"
        try:
            drjit = import_module("drjit")
            if drjit.has_backend(drjit.JitBackend.CUDA):
                name = "cuda_ad_rgb"
        except Exception:  # no working driver: the CPU variant does
            name = "scalar_rgb"
    mi.set_variant(name)
    if name.startswith("cuda"):
        # the card does the work: one helper thread a process, or many processes fight for cores
        import_module("drjit").set_thread_count(1)
    return name


# The kernels that the renderer compiles, most of a second each, differ with the parts that are
# empty and with the extent of the scene. So an empty part is a speck in a far corner below the
# ground, and specks in two opposite corners give every scene the same extent.
FAR_MM = 4000.0
SPECKS_MM = np.array([
    [-1, -1, -1], [-0.9998, -1, -1], [-1, -0.9998, -1],
    [1, 1, 1], [0.9998, 1, 1], [1, 0.9998, 1],
], np.float32) * np.float32(FAR_MM)
SPECK_FACES = np.array([[0, 1, 2], [3, 4, 5]], np.int32)


def _shape(name: str, v: Any, f: Any, bsdf: Any, colours: Any = None, uv: Any = None) -> Any:
    mi = import_module("mitsuba")
    if not len(f):
        v, f = SPECKS_MM[:3], SPECK_FACES[:1]
        colours = None if colours is None else np.full((3, 3), 0.1, np.float32)
    props = mi.Properties()
    props["mesh_bsdf"] = bsdf
    mesh = mi.Mesh(
        name, vertex_count=len(v), face_count=len(f), has_vertex_normals=False,
        has_vertex_texcoords=uv is not None, props=props,
    )
    if colours is not None:
        mesh.add_attribute("vertex_color", 3, np.ravel(np.asarray(colours, np.float32)))
    params = mi.traverse(mesh)
    params["vertex_positions"] = np.ravel(np.asarray(v, np.float32))
    params["faces"] = np.ravel(f).astype(np.uint32)
    if uv is not None:
        params["vertex_texcoords"] = np.ravel(np.asarray(uv, np.float32))
    params.update()
    return mesh


def _surfaces() -> dict[str, Any]:
    mi = import_module("mitsuba")
    paint = {"type": "mesh_attribute", "name": "vertex_color"}
    leaf = {
        "type": "principledthin", "base_color": paint, "roughness": 0.45, "spec_trans": 0.0,
        "diff_trans": 0.55, "eta": 1.35,
    }
    matt = {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": paint}}
    gloss = {
        "type": "twosided",
        "bsdf": {"type": "principled", "base_color": paint, "roughness": 0.45, "specular": 0.4},
    }
    kinds: dict[str, Any] = {
        "crop": leaf, "weeds": leaf, "litter": matt, "stones": matt, "frame": gloss,
        "decoys": gloss,
    }
    return {name: mi.load_dict(kinds[name]) for name in PARTS}


def solid_shapes(scene: Scene) -> dict[str, Any]:
    """The renderer's own shapes of everything that stays where it is between views of a stand."""
    mi = import_module("mitsuba")
    surfaces = _surfaces()
    v, f, uv = scene.ground.mesh()
    soil = mi.load_dict({
        "type": "diffuse",
        "reflectance": {
            "type": "bitmap", "bitmap": mi.Bitmap(scene.ground.colour[::-1].copy()), "raw": True,
            "filter_type": "bilinear",
        },
    })
    shapes: dict[str, Any] = {"s0_ground": _shape("ground", v, f, soil, uv=uv)}
    for i, name in enumerate(PARTS, start=1):
        m: Mesh = scene.parts[name]
        shapes[f"s{i}_{name}"] = _shape(name, m.vertices, m.faces, surfaces[name], m.colours)
    return shapes


def _build(scene: Scene, shapes: dict[str, Any]) -> tuple[Any, list[str]]:
    mi = import_module("mitsuba")
    whole: dict[str, Any] = {"type": "scene", **shapes}
    dark = mi.load_dict({"type": "twosided", "bsdf": {"type": "diffuse",
                         "reflectance": {"type": "rgb", "value": [0.12, 0.1, 0.1]}}})
    p: Mesh = scene.parts["person"]
    whole["s9_person"] = _shape(
        "person", np.concatenate([p.vertices, SPECKS_MM]),
        np.concatenate([p.faces, SPECK_FACES + len(p.vertices)]), dark,
    )
    light = scene.light
    whole["sun"] = {
        "type": "directional", "direction": [float(x) for x in light.travel],
        "irradiance": {"type": "rgb", "value": [float(x) for x in light.sun]},
    }
    to_z_up = mi.ScalarTransform4f().rotate([1, 0, 0], 90)
    whole["sky"] = {
        "type": "envmap", "bitmap": mi.Bitmap(sky_picture(light)), "to_world": to_z_up,
    }
    return mi.load_dict(whole), ["ground", *PARTS, "person"]


def _sensor(scene: Scene, spp: int, seed: int, sharp: bool) -> Any:
    mi = import_module("mitsuba")
    c = scene.camera
    fov = float(np.degrees(2 * np.arctan(c.width / 2 / c.focal_px)))
    look = mi.ScalarTransform4f().look_at(
        origin=[float(x) for x in c.place_mm], target=[float(x) for x in c.place_mm + c.ahead],
        up=[float(-x) for x in c.down],
    )
    return mi.load_dict({
        "type": "perspective", "fov": fov, "fov_axis": "x", "to_world": look,
        "near_clip": 10.0, "far_clip": 20000.0,
        "film": {
            "type": "hdrfilm", "width": c.width, "height": c.height, "pixel_format": "rgb",
            "component_format": "float32",
            "rfilter": {"type": "box"} if sharp else {"type": "gaussian", "stddev": 0.45},
        },
        "sampler": {"type": "independent", "sample_count": spp, "seed": seed},
    })


def _shape_numbers(world: Any) -> list[tuple[int, Any]]:
    """The number by which the integrator names each shape: its registry number, or 1, 2, 3 …"""
    mi = import_module("mitsuba")
    shapes = list(world.shapes())
    if mi.variant().startswith("scalar"):
        return list(enumerate(shapes, start=1))
    dr = import_module("drjit")
    return [(int(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(s))[0]), s) for s in shapes]


def trace(
    scene: Scene, *, samples: int = 16, depth: int = 3, shapes: dict[str, Any] | None = None
) -> tuple[NDArray[np.float32], NDArray[np.uint8], NDArray[np.int32]]:
    """Render a scene; ``shapes``, from `solid_shapes` of another view of it, save time.

    Returns
    -------
    radiance : ndarray (H, W, 3) float32, linear, relative units
    classes : ndarray (H, W) uint8, class ids (0 soil, 1 residue, 2 crop, 3 other plants,
        4 frame, 255 something else)
    owners : ndarray (H, W) int32, the shoot that a crop pixel shows, else -1
    """
    mi = import_module("mitsuba")
    world, names = _build(scene, shapes or solid_shapes(scene))
    seed = int((scene.seed + 104_729 * scene.view) % (2**31))
    picture = mi.render(
        world, sensor=_sensor(scene, samples, seed, False), spp=samples, seed=seed,
        integrator=mi.load_dict({"type": "path", "max_depth": depth, "rr_depth": 99,
                                 "hide_emitters": True}),
    )
    radiance = np.array(picture, np.float32)[..., :3]
    flat = mi.render(
        world, sensor=_sensor(scene, 1, seed, True), spp=1, seed=seed + 1,
        integrator=mi.load_dict({"type": "aov", "aovs": "s:shape_index,p:prim_index"}),
    )
    index = np.array(flat, np.float32)
    shown, triangle = (np.rint(index[..., k]).astype(np.int64) for k in (-2, -1))
    classes = np.full(shown.shape, 255, np.uint8)
    crop_number = -1
    for number, shape in _shape_numbers(world):
        for name in names:
            if shape.id() == name or shape.id().endswith("_" + name):
                classes[shown == number] = CLASS_OF.get(name, 255)
                if name == "crop":
                    crop_number = number
    owners = np.full(classes.shape, -1, np.int32)
    is_crop = shown == crop_number
    table = scene.parts["crop"].owners
    if not len(table):
        return radiance, classes, owners
    owners[is_crop] = table[np.clip(triangle[is_crop], 0, len(table) - 1)]
    return radiance, classes, owners
