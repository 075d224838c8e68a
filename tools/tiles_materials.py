"""Materials of wax, food, bodies and stores."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy

if TYPE_CHECKING:
    from tiles_settings import Wax


# Shares of light that milky food and bodies in it let through to what lies in their shadow.
_MILKY_LETS_THROUGH = 0.7
_AFLOAT_LETS_THROUGH = 0.75
# Share of the view that passes each side of a body just hatched and of one grown up.
_CLEAR_YOUNG_GROWN = (0.28, 0.04)


def _start(
    name: str,
) -> tuple[bpy.types.Material, bpy.types.NodeTree, bpy.types.ShaderNode]:
    material = bpy.data.materials.new(name)
    material.use_nodes = True
    tree = material.node_tree
    return material, tree, tree.nodes["Principled BSDF"]


def _attribute(tree: bpy.types.NodeTree, name: str) -> bpy.types.ShaderNode:
    node = tree.nodes.new("ShaderNodeAttribute")
    node.attribute_name = name
    return node


def _bump(
    tree: bpy.types.NodeTree, scale_per_mm: float, height_mm: float, strength: float
) -> bpy.types.NodeSocket:
    """Return the output of a bump of fine noise in the frame's own space."""
    where = tree.nodes.new("ShaderNodeTexCoord")
    grain = tree.nodes.new("ShaderNodeTexNoise")
    grain.inputs["Scale"].default_value = scale_per_mm
    grain.inputs["Detail"].default_value = 3.0
    bump = tree.nodes.new("ShaderNodeBump")
    bump.inputs["Distance"].default_value = height_mm
    bump.inputs["Strength"].default_value = strength
    tree.links.new(where.outputs["Object"], grain.inputs["Vector"])
    tree.links.new(grain.outputs["Fac"], bump.inputs["Height"])
    return bump.outputs["Normal"]


def _ramp(
    tree: bpy.types.NodeTree, value: bpy.types.NodeSocket, low: float, high: float
) -> bpy.types.NodeSocket:
    """Return a value of 0 to 1 mapped to ``low`` to ``high``."""
    node = tree.nodes.new("ShaderNodeMapRange")
    node.inputs["To Min"].default_value = low
    node.inputs["To Max"].default_value = high
    tree.links.new(value, node.inputs["Value"])
    return node.outputs["Result"]


def _set(shader: bpy.types.ShaderNode, values: dict[str, float | tuple[float, ...]]) -> None:
    for name, value in values.items():
        shader.inputs[name].default_value = value


def _calculated(
    tree: bpy.types.NodeTree,
    operation: str,
    one: bpy.types.NodeSocket,
    other: bpy.types.NodeSocket,
) -> bpy.types.NodeSocket:
    node = tree.nodes.new("ShaderNodeMath")
    node.operation = operation
    tree.links.new(one, node.inputs[0])
    tree.links.new(other, node.inputs[1])
    return node.outputs["Value"]


def _product(
    tree: bpy.types.NodeTree, one: bpy.types.NodeSocket, other: bpy.types.NodeSocket
) -> bpy.types.NodeSocket:
    return _calculated(tree, "MULTIPLY", one, other)


def _larger(
    tree: bpy.types.NodeTree, one: bpy.types.NodeSocket, other: bpy.types.NodeSocket
) -> bpy.types.NodeSocket:
    return _calculated(tree, "MAXIMUM", one, other)


def _open_by(
    tree: bpy.types.NodeTree, shader: bpy.types.ShaderNode, share: bpy.types.NodeSocket
) -> None:
    """Let a share of rays pass a surface as if it were not there."""
    through = tree.nodes.new("ShaderNodeBsdfTransparent")
    mix = tree.nodes.new("ShaderNodeMixShader")
    tree.links.new(share, mix.inputs["Fac"])
    tree.links.new(shader.outputs["BSDF"], mix.inputs[1])
    tree.links.new(through.outputs["BSDF"], mix.inputs[2])
    tree.links.new(mix.outputs["Shader"], tree.nodes["Material Output"].inputs["Surface"])


def wax_material(wax: Wax, name: str = "wax", *, dull: bool = False) -> bpy.types.Material:
    """Return wax, coloured by its points; ``dull`` for crumbs, cappings and pollen."""
    material, tree, shader = _start(name)
    colour = _attribute(tree, "Col")
    tree.links.new(colour.outputs["Color"], shader.inputs["Base Color"])
    gloss = _attribute(tree, "gloss")
    low, high = (0.75, 0.6) if dull else (wax.roughness + 0.14, wax.roughness - 0.12)
    tree.links.new(_ramp(tree, gloss.outputs["Fac"], low, high), shader.inputs["Roughness"])
    grain = 0.045 if dull else 0.03 + 0.03 * wax.glitter
    tree.links.new(_bump(tree, 11.0, grain, 0.8), shader.inputs["Normal"])
    _set(
        shader,
        {
            "IOR": 1.44,
            "Specular IOR Level": 0.2 if dull else wax.specular,
            "Subsurface Weight": wax.subsurface * (0.6 if dull else 1.0),
            "Subsurface Radius": (1.0, 0.45, 0.15),
            "Subsurface Scale": wax.scatter_mm * (0.4 if dull else 1.0),
        },
    )
    return material


def body_material(*, wet: bool = True) -> bpy.types.Material:
    """Return larvae and eggs: pearly, with a wet skin that mirrors the lamp."""
    material, tree, shader = _start("body")
    colour = _attribute(tree, "Col")
    tree.links.new(colour.outputs["Color"], shader.inputs["Base Color"])
    grown = _attribute(tree, "grown")
    tree.links.new(_ramp(tree, grown.outputs["Fac"], 0.30, 0.22), shader.inputs["Subsurface Scale"])
    _set(
        shader,
        {
            "Roughness": 0.26,
            "IOR": 1.38,
            "Subsurface Weight": 1.0,
            "Subsurface Radius": (1.0, 0.85, 0.6),
            "Coat Weight": 0.9 if wet else 0.2,
            "Coat Roughness": 0.07,
            "Coat IOR": 1.38,
        },
    )
    tree.links.new(_bump(tree, 9.0, 0.006, 0.5), shader.inputs["Normal"])
    # Bodies in food are as translucent as the food and hardly throw a shadow into it.
    path = tree.nodes.new("ShaderNodeLightPath")
    afloat = _ramp(tree, _attribute(tree, "afloat").outputs["Fac"], 0.0, _AFLOAT_LETS_THROUGH)
    shadow = _product(tree, path.outputs["Is Shadow Ray"], afloat)
    # Young bodies are so clear that what they lie on shows through.
    seen_through = _ramp(tree, grown.outputs["Fac"], *_CLEAR_YOUNG_GROWN)
    seen = _product(tree, path.outputs["Is Camera Ray"], seen_through)
    _open_by(tree, shader, _larger(tree, shadow, seen))
    return material


def liquid_material(name: str, *, scatter_mm: float, roughness: float) -> bpy.types.Material:
    """Return food or nectar: ``clear`` parts let light through, the others scatter it."""
    material, tree, shader = _start(name)
    colour = _attribute(tree, "Col")
    tree.links.new(colour.outputs["Color"], shader.inputs["Base Color"])
    clear = _attribute(tree, "clear")
    tree.links.new(clear.outputs["Fac"], shader.inputs["Transmission Weight"])
    _set(
        shader,
        {
            "Roughness": roughness,
            "IOR": 1.38,
            "Subsurface Weight": 0.9,
            "Subsurface Radius": (1.0, 0.95, 0.8),
            "Subsurface Scale": scatter_mm,
        },
    )
    # Light falls through clear food: without this the floor under it would lie in its
    # shadow. It also reaches the sides of bodies in milky food, which else get dark outlines.
    path = tree.nodes.new("ShaderNodeLightPath")
    lit = _ramp(tree, clear.outputs["Fac"], _MILKY_LETS_THROUGH, 1.0)
    direct = _product(tree, path.outputs["Is Shadow Ray"], lit)
    bounced = _product(tree, path.outputs["Is Diffuse Ray"], clear.outputs["Fac"])
    _open_by(tree, shader, _larger(tree, direct, bounced))
    return material
