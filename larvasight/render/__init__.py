"""Drawing comb and larvae with known truth."""

from larvasight.geometry.facts import Fact
from larvasight.render import comb_side, patch
from larvasight.render.files import save_picture
from larvasight.render.painter import Painted, paint, paint_with_maps
from larvasight.render.patch import AgeField, patch_scene, sample_age_field
from larvasight.render.sampling import Variation, random_scene, sample_larva
from larvasight.render.scene import (
    FIRST_LOOK,
    BeeShadow,
    Camera,
    Comb,
    CombScene,
    Egg,
    Larva,
    Light,
    LightKind,
    Pool,
    SceneCell,
    Stores,
    StoresKind,
)
from larvasight.render.truth import truth_sheet
from larvasight.render.view import cells_in_view

FACTS: tuple[Fact, ...] = (*patch.FACTS, *comb_side.FACTS)

__all__ = [
    "FACTS",
    "FIRST_LOOK",
    "AgeField",
    "BeeShadow",
    "Camera",
    "Comb",
    "CombScene",
    "Egg",
    "Larva",
    "Light",
    "LightKind",
    "Painted",
    "Pool",
    "SceneCell",
    "Stores",
    "StoresKind",
    "Variation",
    "cells_in_view",
    "paint",
    "paint_with_maps",
    "patch_scene",
    "random_scene",
    "sample_age_field",
    "sample_larva",
    "save_picture",
    "truth_sheet",
]
