"""Everything a drawn comb is made of; one scene always gives one picture.

The comb's frame has x to the right and y down in the plane of the rims, the depth
counted from the rims into the cells, all in mm; its origin is the point the camera
looks at. Heights count from a floor's deepest point towards the viewer.
"""

from dataclasses import dataclass, field
from enum import StrEnum

from larvasight.errors import require_between, require_positive
from larvasight.geometry import PITCH_MAX_MM, PITCH_MIN_MM
from larvasight.sheet import Content, Jelly

FIRST_LOOK = "first"

# Room between cell axis and wall that a body may take up at the default pitch of 5.3 mm:
# half the pitch less wall and a film of food. Beyond it old larvae poke through the wall.
WALL_ALLOWANCE_MM = 0.2

AGE_MAX_H = 96.0
EGG_AGE_MIN_H = -80.0
SIZE_MIN_PX = 32
SIZE_MAX_PX = 8000


class LightKind(StrEnum):
    """Shape of the lamp, as seen in reflections and shadows."""

    RING = "ring"
    SUN = "sun"
    WINDOW = "window"
    HEADLAMP = "headlamp"


class StoresKind(StrEnum):
    """What bees stored in a cell."""

    POLLEN = "pollen"
    NECTAR = "nectar"


@dataclass(frozen=True, slots=True, kw_only=True)
class Comb:
    """Wax and shape of the comb.

    ``wax_age`` runs from 0, new lemon yellow, to 1, near black; ``cocoon`` from 0,
    three sharp rhombi, to 1, a round bowl. ``rim_half_mm`` is half the thickness of
    a rim, ``corner_round`` 0 for sharp hexagons to 1 for round openings. ``rim_ragged``,
    ``stain``, ``crumbs``, ``shine``, ``pollen_flecks`` and ``hairs`` are amounts in [0, 1].
    """

    pitch_mm: float = 5.3
    row_angle_deg: float = 0.0
    floor_turned: bool = False
    wax_age: float = 0.3
    wax_tint_rgb: tuple[float, float, float] = (1.0, 1.0, 1.0)
    cocoon: float = 0.2
    rim_half_mm: float = 0.25
    rim_ragged: float = 0.2
    corner_round: float = 0.4
    stain: float = 0.3
    crumbs: float = 0.2
    shine: float = 0.3
    pollen_flecks: float = 0.0
    hairs: float = 0.0
    texture_seed: int = 0

    def __post_init__(self) -> None:
        """Check that the comb can be drawn."""
        require_between("pitch_mm", self.pitch_mm, PITCH_MIN_MM, PITCH_MAX_MM)
        require_between("rim_half_mm", self.rim_half_mm, 0.02, 0.2 * self.pitch_mm)
        for name in ("wax_age", "cocoon", "rim_ragged", "corner_round", "stain", "crumbs", "shine"):
            require_between(name, getattr(self, name), 0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Larva:
    """One larva: a bent tube lying in a plane parallel to the rims.

    ``length_mm``, ``width_mm`` and ``curl_deg`` are what the drawing starts from; true
    values are measured on the drawn midline. ``wiggle`` bends it into an S,
    ``unevenness`` curls the tail more than the head, ``curl_side`` is 1 or -1,
    ``roll`` turns it about its own axis (-1 to 1), ``sink`` says how far its axis
    lies under the food's surface, in body radii.
    """

    age_h: float
    length_mm: float
    width_mm: float
    curl_deg: float
    offset_xy_mm: tuple[float, float] = (0.0, 0.0)
    heading_deg: float = 0.0
    curl_side: int = 1
    wiggle: float = 0.1
    unevenness: float = 0.1
    roll: float = 0.0
    sink: float = 0.06
    tint_rgb: tuple[float, float, float] = (1.0, 1.0, 1.0)
    gloss: float = 1.0

    def __post_init__(self) -> None:
        """Check that the body can be drawn."""
        require_between("age_h", self.age_h, 0.0, AGE_MAX_H)
        require_between("length_mm", self.length_mm, 0.5, 20.0)
        require_between("width_mm", self.width_mm, 0.1, 5.0)
        require_between("curl_deg", self.curl_deg, 0.0, 400.0)
        if self.curl_side not in (-1, 1):
            msg = f"curl_side must be 1 or -1, got {self.curl_side}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Egg:
    """One egg glued by one end to the floor; ``age_h`` is negative, 0 is hatching.

    ``lean_deg`` is measured from the cell's axis: 0 stands, 90 lies.
    """

    age_h: float
    length_mm: float
    width_mm: float
    lean_deg: float
    azimuth_deg: float = 0.0
    bend_deg: float = 20.0
    offset_xy_mm: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        """Check that the egg can be drawn."""
        require_between("age_h", self.age_h, EGG_AGE_MIN_H, 0.0)
        require_between("length_mm", self.length_mm, 0.5, 3.0)
        require_between("width_mm", self.width_mm, 0.1, 1.5)
        require_between("lean_deg", self.lean_deg, 0.0, 90.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Brood food in a cell.

    ``level_mm`` is the height of its surface above the floor's deepest point,
    ``opacity_per_mm`` how fast it hides what lies under it: about 1 clear, 10 milky.
    """

    amount: Jelly = Jelly.NONE
    level_mm: float = 0.0
    opacity_per_mm: float = 5.0
    tint_rgb: tuple[float, float, float] = (1.0, 1.0, 1.0)
    ripple: float = 0.3

    def __post_init__(self) -> None:
        """Check that the pool can be drawn."""
        require_between("level_mm", self.level_mm, 0.0, 4.0)
        require_between("opacity_per_mm", self.opacity_per_mm, 0.0, 100.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stores:
    """Pollen or nectar, its surface ``depth_mm`` below the rims; colour in sRGB 0-255."""

    kind: StoresKind
    depth_mm: float
    colour_rgb: tuple[float, float, float]

    def __post_init__(self) -> None:
        """Check that the filling can be drawn."""
        require_between("depth_mm", self.depth_mm, 0.2, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneCell:
    """One cell at axial position ``(q, r)`` of the lattice and what it holds."""

    q: int
    r: int
    content: Content = Content.EMPTY
    larva: Larva | None = None
    egg: Egg | None = None
    pool: Pool = field(default_factory=Pool)
    stores: Stores | None = None
    seed: int = 0

    def __post_init__(self) -> None:
        """Check that content and parts agree."""
        parts = {Content.LARVA: self.larva, Content.EGG: self.egg, Content.STORES: self.stores}
        for content, part in parts.items():
            if (self.content is content) != (part is not None):
                msg = f"content must be {content} exactly when the cell has one, got {self.content}"
                raise ValueError(msg)
        if self.content in (Content.COVERED, Content.UNCLEAR):
            msg = f"content must be something that can be drawn, got {self.content}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """One lamp and the light from all around.

    ``slope_xy`` points to the lamp: mm sideways for each mm of height. ``size`` is the
    lamp's radius in the same slope units, ``height_mm`` its height over the rims.
    Colours are linear and near 1; ``strength`` and ``ambient`` are their amounts.
    """

    kind: LightKind = LightKind.HEADLAMP
    slope_xy: tuple[float, float] = (0.07, -0.13)
    size: float = 0.05
    height_mm: float = 175.0
    colour_rgb: tuple[float, float, float] = (1.0, 0.97, 0.92)
    strength: float = 1.0
    ambient: float = 0.35
    ambient_rgb: tuple[float, float, float] = (0.94, 0.98, 1.05)

    def __post_init__(self) -> None:
        """Check that the light can be used."""
        require_positive("height_mm", self.height_mm)
        require_positive("size", self.size)
        require_between("strength", self.strength, 0.0, 20.0)
        require_between("ambient", self.ambient, 0.0, 20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BeeShadow:
    """Soft shadow of a bee outside the picture: an ellipse on the rims, ``depth`` in [0, 1]."""

    centre_xy_mm: tuple[float, float]
    length_mm: float = 13.0
    width_mm: float = 5.0
    angle_deg: float = 0.0
    softness_mm: float = 2.0
    depth: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A pinhole looking at the comb's origin, and what lens and sensor do to the picture.

    ``distance_mm`` runs along the optical axis to the plane of the rims; ``tilt_deg``
    is the angle between optical axis and cell axis, the camera leaning towards
    ``tilt_direction_deg`` (0 right, 90 down). ``pitch_px`` is the pitch at the middle
    of the picture, ``defocus_px_per_mm`` the blur radius per mm away from ``focus_mm``
    (a depth below the rims). ``noise`` is the standard deviation at mid grey in 1/255.
    """

    size_px: tuple[int, int] = (1000, 750)
    pitch_px: float = 190.0
    distance_mm: float = 180.0
    tilt_deg: float = 0.0
    tilt_direction_deg: float = 0.0
    centre_xy_mm: tuple[float, float] = (0.0, 0.0)
    focus_mm: float = 9.0
    defocus_px_per_mm: float = 0.1
    blur_px: float = 0.5
    motion_px: float = 0.0
    motion_deg: float = 0.0
    noise: float = 1.5
    exposure: float = 1.0
    contrast: float = 1.0
    haze: float = 0.0
    white_balance_rgb: tuple[float, float, float] = (1.0, 1.0, 1.0)
    vignetting: float = 0.15
    jpeg_quality: int | None = None
    seed: int = 0

    def __post_init__(self) -> None:
        """Check that the view is possible."""
        for side_px in self.size_px:
            require_between("size_px", side_px, SIZE_MIN_PX, SIZE_MAX_PX)
        require_between("pitch_px", self.pitch_px, 6.0, 4000.0)
        require_between("distance_mm", self.distance_mm, 40.0, 2000.0)
        require_between("tilt_deg", self.tilt_deg, 0.0, 60.0)
        require_between("exposure", self.exposure, 0.01, 100.0)
        if self.jpeg_quality is not None:
            require_between("jpeg_quality", self.jpeg_quality, 1, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class CombScene:
    """A comb, its cells, light and camera; ``look`` names the set of drawing rules.

    ``body_look``, ``jelly_look`` and ``light_look`` override ``look`` for one part.
    """

    comb: Comb
    cells: tuple[SceneCell, ...]
    light: Light = field(default_factory=Light)
    shadows: tuple[BeeShadow, ...] = ()
    camera: Camera = field(default_factory=Camera)
    look: str = FIRST_LOOK
    body_look: str | None = None
    jelly_look: str | None = None
    light_look: str | None = None

    def __post_init__(self) -> None:
        """Check that no place holds two cells."""
        places = {(cell.q, cell.r) for cell in self.cells}
        if len(places) != len(self.cells):
            msg = (
                f"cells must have places of their own, "
                f"got {len(self.cells)} on {len(places)} places"
            )
            raise ValueError(msg)
