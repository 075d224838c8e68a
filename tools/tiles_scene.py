"""Frames in the path tracer: meshes, lamps, camera, and linear pictures out of it."""

from __future__ import annotations

import math
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import bpy
import mathutils
import numpy as np
from numpy.typing import NDArray

from tiles_frames import Frame, frame_bounds_mm
from tiles_materials import body_material, liquid_material, wax_material
from tiles_settings import CAMERA_DISTANCE_MM, PITCH_MM, Lamp, Setting

if TYPE_CHECKING:
    from tiles_mesh import Mesh

Floats = NDArray[np.float64]

# Far enough that all cells of a frame stand in the same light.
_LAMP_DISTANCE_MM = 4000.0
# The picture is drawn a little finer than the tiles cut from it.
_FINER = 1.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """How a frame is rendered: ``device`` is cpu, cuda or optix; ``threads`` 0 for all."""

    device: str = "cpu"
    samples: int = 128
    threads: int = 1
    pitch_px: float = 176.0
    bounces: int = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A rendered picture and how the plane of the rims lies in it.

    ``light`` of shape (H, W, 3) is linear; ``matrix`` of shape (2, 3) takes rim-plane mm
    to pixels; ``slope_xy`` is the rays' mm sideways for each mm of depth.
    """

    light: NDArray[np.float32]
    matrix: Floats
    slope_xy: tuple[float, float]


def prepare(quality: Quality) -> None:
    """Empty the scene and set up the renderer once for a process."""
    scene = bpy.context.scene
    for obj in list(bpy.data.objects):
        bpy.data.objects.remove(obj)
    scene.render.engine = "CYCLES"
    cycles = scene.cycles
    if quality.device != "cpu":
        preferences = bpy.context.preferences.addons["cycles"].preferences
        preferences.compute_device_type = quality.device.upper()
        preferences.get_devices()
        for device in preferences.devices:
            device.use = device.type == quality.device.upper()
        if not any(device.use for device in preferences.devices):
            msg = f"device must be one that this machine has, got {quality.device}"
            raise ValueError(msg)
        cycles.device = "GPU"
        cycles.denoising_use_gpu = True
    if quality.threads:
        scene.render.threads_mode = "FIXED"
        scene.render.threads = quality.threads
    cycles.samples = quality.samples
    cycles.use_adaptive_sampling = True
    cycles.adaptive_threshold = 0.02
    cycles.use_denoising = True
    cycles.denoiser = "OPENIMAGEDENOISE"
    cycles.denoising_input_passes = "RGB_ALBEDO_NORMAL"
    cycles.max_bounces = quality.bounces
    cycles.transmission_bounces = quality.bounces
    cycles.transparent_max_bounces = quality.bounces
    cycles.sample_clamp_indirect = 8.0
    cycles.blur_glossy = 0.5
    cycles.caustics_refractive = False
    cycles.caustics_reflective = False
    scene.render.use_persistent_data = False
    scene.render.image_settings.file_format = "OPEN_EXR"
    scene.render.image_settings.color_depth = "32"
    scene.render.film_transparent = False


def clear() -> None:
    """Free everything that belongs to the last frame."""
    for collection in (bpy.data.objects, bpy.data.meshes, bpy.data.materials, bpy.data.lights,
                       bpy.data.cameras, bpy.data.worlds, bpy.data.images):  # fmt: skip
        bpy.data.batch_remove(list(collection))


def build(frame: Frame) -> None:
    """Bring a frame's meshes into the empty scene."""
    wax = frame.setting.wax
    materials = {
        "wax": wax_material(wax),
        "stuff": wax_material(wax, "stuff", dull=True),
        "body": body_material(),
        "jelly": liquid_material("jelly", scatter_mm=0.4, roughness=0.05),
        "nectar": liquid_material("nectar", scatter_mm=0.6, roughness=0.03),
    }
    for name, mesh in frame.meshes.items():
        _add(name, mesh, materials[name])


def _add(name: str, mesh: Mesh, material: bpy.types.Material) -> None:
    # The renderer's y runs up, and it wants corners counterclockwise.
    points = (mesh.points_mm * np.array([1.0, -1.0, 1.0])).astype(np.float32)
    quads = mesh.quads[:, ::-1]
    data = bpy.data.meshes.new(name)
    data.vertices.add(len(points))
    data.vertices.foreach_set("co", points.ravel())
    data.loops.add(quads.size)
    data.loops.foreach_set("vertex_index", quads.astype(np.int32).ravel())
    data.polygons.add(len(quads))
    data.polygons.foreach_set("loop_start", np.arange(0, quads.size, 4, dtype=np.int32))
    colour = data.color_attributes.new("Col", "FLOAT_COLOR", "POINT")
    rgba = np.column_stack([mesh.colours, np.ones(len(points))]).astype(np.float32)
    colour.data.foreach_set("color", rgba.ravel())
    for key, values in mesh.values.items():
        attribute = data.attributes.new(key, "FLOAT", "POINT")
        attribute.data.foreach_set("value", values.astype(np.float32))
    data.update(calc_edges=True)
    data.polygons.foreach_set("use_smooth", np.ones(len(quads), dtype=bool))
    data.materials.append(material)
    bpy.context.scene.collection.objects.link(bpy.data.objects.new(name, data))


def light(setting: Setting, lamps: tuple[Lamp, ...]) -> None:
    """Replace lamps and sky."""
    for old in list(bpy.data.lights):
        bpy.data.lights.remove(old)
    for lamp in lamps:
        _lamp(lamp)
    world = bpy.data.worlds.new("sky")
    world.use_nodes = True
    back = world.node_tree.nodes["Background"]
    back.inputs["Color"].default_value = (*setting.sky_rgb, 1.0)
    back.inputs["Strength"].default_value = setting.sky
    bpy.context.scene.world = world


def _lamp(lamp: Lamp) -> None:
    x, y = lamp.slope_xy
    toward = mathutils.Vector((x, -y, 1.0)).normalized()
    data = bpy.data.lights.new("lamp", "AREA" if lamp.square else "SUN")
    data.color = lamp.colour_rgb
    if lamp.square:
        side = 2.0 * lamp.size * _LAMP_DISTANCE_MM
        data.shape, data.size, data.size_y = "RECTANGLE", 0.72 * side, side
        data.energy = lamp.strength * math.pi * _LAMP_DISTANCE_MM**2
    else:
        data.angle = 2.0 * math.atan(lamp.size)
        data.energy = lamp.strength
    obj = bpy.data.objects.new("lamp", data)
    obj.location = toward * _LAMP_DISTANCE_MM
    obj.rotation_mode = "QUATERNION"
    obj.rotation_quaternion = toward.to_track_quat("Z", "Y")
    obj.visible_camera = False
    bpy.context.scene.collection.objects.link(obj)


def shoot(frame: Frame, slope_xy: tuple[float, float], quality: Quality) -> Shot:
    """Render what is built and lit, seen along rays of a slope."""
    setting = frame.setting
    back = np.array([-slope_xy[0], slope_xy[1], 1.0])
    back /= np.linalg.norm(back)
    right = np.array([1.0, 0.0, 0.0]) - back[0] * back
    right /= np.linalg.norm(right)
    up = np.cross(back, right)
    low, high = frame_bounds_mm(frame)
    middle = 0.5 * (low + high)
    target = np.array([middle[0], -middle[1], 0.0])
    # Rim-plane (x, y down) to picture (right, down) in mm.
    to_picture = np.array([[right[0], -right[1]], [-up[0], up[1]]])
    half = np.abs(to_picture) @ (0.5 * (high - low))
    scale = quality.pitch_px / PITCH_MM * _FINER
    width_px, height_px = (int(2 * math.ceil(h * scale) + 4) for h in half)
    scene = bpy.context.scene
    scene.render.resolution_x, scene.render.resolution_y = width_px, height_px
    scene.render.resolution_percentage = 100
    _camera(setting, target, (right, up, back), width_px / scale)
    light_px = _render(width_px, height_px)
    linear = scale * to_picture
    shift = np.array([(width_px - 1) / 2.0, (height_px - 1) / 2.0]) - linear @ middle
    return Shot(light=light_px, matrix=np.column_stack([linear, shift]), slope_xy=slope_xy)


def _camera(
    setting: Setting, target: Floats, axes: tuple[Floats, Floats, Floats], width_mm: float
) -> None:
    for old in list(bpy.data.cameras):
        bpy.data.cameras.remove(old)
    right, up, back = axes
    data = bpy.data.cameras.new("camera")
    data.type = "ORTHO"
    data.sensor_fit = "HORIZONTAL"
    data.ortho_scale = width_mm
    data.clip_end = 2.0 * CAMERA_DISTANCE_MM
    if setting.aperture_mm > 0.0:
        data.dof.use_dof = True
        data.dof.focus_distance = CAMERA_DISTANCE_MM + setting.focus_mm
        # An orthographic camera's lens has the radius 1 / (2 f-stop).
        data.dof.aperture_fstop = 1.0 / (2.0 * setting.aperture_mm)
    obj = bpy.data.objects.new("camera", data)
    place = target + CAMERA_DISTANCE_MM * back
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2], matrix[:3, 3] = right, up, back, place
    obj.matrix_world = mathutils.Matrix(matrix.tolist())
    scene = bpy.context.scene
    scene.collection.objects.link(obj)
    scene.camera = obj


def _render(width_px: int, height_px: int) -> NDArray[np.float32]:
    scene = bpy.context.scene
    with tempfile.TemporaryDirectory() as folder:
        scene.render.filepath = str(Path(folder) / "frame.exr")
        bpy.ops.render.render(write_still=True)
        image = bpy.data.images.load(scene.render.filepath)
        values = np.empty(width_px * height_px * image.channels, dtype=np.float32)
        image.pixels.foreach_get(values)
        bpy.data.images.remove(image)
    picture = values.reshape(height_px, width_px, -1)[::-1, :, :3]
    return np.ascontiguousarray(picture)
