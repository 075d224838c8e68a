"""Drawing comb and larvae with known truth."""

from larvasight.render.files import save_picture
from larvasight.render.painter import Painted, paint, paint_with_maps
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

__all__ = [
    "FIRST_LOOK",
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
    "random_scene",
    "sample_larva",
    "save_picture",
    "truth_sheet",
]
