"""Where the tool goes in: half rings in the middle of a cell, told by hand."""

import math

import numpy as np
import pytest

from larvasight.practice.tool_entry import (
    FACTS,
    FLEXIBLE_REACH,
    RIGID_REACH,
    TOUCH,
    WALL_HALF,
    Entry,
    EntryTool,
    Floor,
    Hand,
    Landing,
    can_come_from,
    good_zone,
    has_side_for,
    judge,
    room_behind_mm,
)

RIGHT, DOWN, LEFT, UP = 0.0, 90.0, 180.0, 270.0
HALF_WIDTH_MM = 0.2


def floor_of(*, radius_mm=1.0, sweep_deg=180.0, centre=(0.0, 0.0), opening=(0.0, 0.0)):
    """Return a cell with an arch that is open below; y points down."""
    turns = np.radians(np.linspace(90.0 - sweep_deg / 2.0, 90.0 + sweep_deg / 2.0, 121))
    line = radius_mm * np.column_stack([np.cos(turns), -np.sin(turns)]) + centre
    return Floor(
        line_xy_mm=line,
        width_mm=2.0 * HALF_WIDTH_MM,
        opening_xy_mm=opening,
        pitch_mm=5.3,
        turn_deg=0.0,
    )


def flexible(x_mm, y_mm):
    return Entry(tool=EntryTool.FLEXIBLE, hand=Hand.RIGHT, tip_xy_mm=(x_mm, y_mm))


def rigid(x_mm, y_mm, from_deg, hand=Hand.RIGHT):
    return Entry(tool=EntryTool.RIGID, hand=hand, tip_xy_mm=(x_mm, y_mm), from_deg=from_deg)


@pytest.mark.reference("common practice: a flexible tip goes straight down behind the back")
def test_a_flexible_tip_behind_the_back_goes_under():
    found = judge(flexible(0.0, -1.4), floor_of())
    assert found.is_hit
    assert found.off_mm == pytest.approx(0.2, abs=1e-3)


@pytest.mark.reference("common practice: never push against the open side of the curve")
def test_inside_the_curve_it_would_turn_or_hurt_the_larva():
    assert judge(flexible(0.0, -0.3), floor_of()).landing is Landing.OPEN_SIDE
    assert judge(flexible(0.0, 0.6), floor_of()).landing is Landing.OPEN_SIDE


def test_on_the_body_the_tip_presses_on_it():
    assert judge(flexible(0.0, -1.05), floor_of()).landing is Landing.ON_BODY
    assert judge(flexible(0.0, -0.95), floor_of()).landing is Landing.ON_BODY


def test_the_edge_may_be_touched_by_a_tenth_of_a_mm():
    edge_mm = 1.0 + HALF_WIDTH_MM
    assert judge(flexible(0.0, -(edge_mm - TOUCH.value + 0.01)), floor_of()).is_hit
    inside = judge(flexible(0.0, -(edge_mm - TOUCH.value - 0.01)), floor_of())
    assert inside.landing is Landing.ON_BODY


@pytest.mark.parametrize(
    ("reach", "entry"),
    [(FLEXIBLE_REACH, flexible), (RIGID_REACH, lambda x, y: rigid(x, y, UP))],
    ids=["flexible", "rigid"],
)
def test_too_far_behind_it_ends_before_it_is_under(reach, entry):
    edge_mm = 1.0 + HALF_WIDTH_MM
    assert judge(entry(0.0, -(edge_mm + reach.value - 0.02)), floor_of()).is_hit
    assert judge(entry(0.0, -(edge_mm + reach.value + 0.02)), floor_of()).landing is Landing.TOO_FAR


def test_beside_a_tip_of_the_body_is_at_an_end():
    turn = math.radians(8.0)  # 8 of 180 degrees along: 4 % of the body
    at = (1.4 * math.cos(turn), -1.4 * math.sin(turn))
    assert judge(flexible(*at), floor_of()).landing is Landing.AT_END


def test_between_back_and_wall_there_may_be_room_for_the_thin_tip_only():
    # The wall's face is 2.45 mm out to the right; the arch is laid on its back to the right.
    floor = floor_of(centre=(0.0, -0.95))
    wall_mm = 5.3 / 2.0 - WALL_HALF.value
    assert floor.room_mm(np.array([(wall_mm, 0.0)])) == pytest.approx([0.0])
    # Straight up lies a corner: 2.45 / cos 30 degrees from the middle.
    assert floor.room_mm(np.array([(0.0, -2.2)]))[0] == pytest.approx(
        wall_mm - 2.2 * math.cos(math.radians(30.0))
    )
    near = (0.0, -2.55)
    room_mm = float(floor.room_mm(np.array([near]))[0])
    assert 0.12 < room_mm < 0.3
    assert judge(flexible(*near), floor).is_hit
    assert judge(rigid(*near, UP), floor).landing is Landing.WALL
    assert judge(flexible(0.0, -2.72), floor).landing is Landing.WALL


def test_what_the_rim_hides_is_as_good_as_wall():
    assert judge(flexible(0.0, -1.4), floor_of(opening=(0.0, 1.4))).landing is Landing.WALL


@pytest.mark.reference("common practice: a rigid hook comes from the side, under the back")
def test_a_hook_comes_from_behind_the_back():
    assert judge(rigid(0.0, -1.4, UP), floor_of()).is_hit
    assert judge(rigid(0.0, -1.4, UP + 55.0), floor_of()).is_hit
    assert judge(rigid(0.0, -1.4, UP + 65.0), floor_of()).landing is Landing.ASLANT
    assert judge(rigid(0.0, -1.4, RIGHT), floor_of()).landing is Landing.ASLANT
    assert judge(rigid(0.0, -1.4, DOWN), floor_of()).landing is Landing.OPEN_SIDE


def test_a_hand_reaches_its_own_side_only():
    assert can_come_from(Hand.RIGHT, RIGHT)
    assert can_come_from(Hand.RIGHT, UP)
    assert not can_come_from(Hand.RIGHT, LEFT)
    assert can_come_from(Hand.LEFT, LEFT)
    assert Hand.RIGHT.other is Hand.LEFT
    with pytest.raises(ValueError, match="on the side of the left hand"):
        rigid(0.0, 0.0, RIGHT, Hand.LEFT)
    with pytest.raises(ValueError, match="from_deg"):
        Entry(tool=EntryTool.RIGID, hand=Hand.RIGHT, tip_xy_mm=(0.0, 0.0))


@pytest.mark.parametrize("tool", list(EntryTool))
@pytest.mark.parametrize("sweep_deg", [40.0, 120.0, 200.0])
def test_the_zone_that_is_drawn_is_the_zone_that_counts(tool, sweep_deg):
    floor = floor_of(sweep_deg=sweep_deg)
    (part,) = good_zone(floor, tool)
    rng = np.random.default_rng(3)
    n_hits = 0
    for point in rng.uniform(-2.0, 2.0, (400, 2)):
        x, y = (float(v) for v in point)
        # Straight under the back, so that only the place counts.
        from_deg = math.degrees(math.atan2(y, x))
        hand = Hand.RIGHT if x >= 0.0 else Hand.LEFT
        entry = Entry(tool=tool, hand=hand, tip_xy_mm=(x, y), from_deg=from_deg)
        is_hit = judge(entry, floor).is_hit
        n_hits += is_hit
        if _away(part, (x, y)) > 0.03:
            assert is_hit == _is_inside(part, (x, y))
    assert n_hits > 5


def test_a_back_against_the_wall_leaves_no_zone_and_little_room():
    floor = floor_of(centre=(0.0, -1.9))
    assert room_behind_mm(floor) < 0.2
    assert good_zone(floor, EntryTool.RIGID) == () or len(good_zone(floor, EntryTool.RIGID)) <= 2
    assert room_behind_mm(floor_of()) > 0.9


def test_a_hook_reaches_a_back_that_faces_its_hand():
    turned = Floor(
        line_xy_mm=floor_of().line_xy_mm @ np.array([[0.0, 1.0], [-1.0, 0.0]]),
        width_mm=0.4,
        opening_xy_mm=(0.0, 0.0),
        pitch_mm=5.3,
        turn_deg=0.0,
    )
    assert has_side_for(turned, Hand.RIGHT) != has_side_for(turned, Hand.LEFT)


def test_every_margin_is_told_as_judgement():
    assert all("judgement" in fact.source for fact in FACTS)


def _is_inside(outline, point):
    inside = False
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if (y0 > point[1]) != (y1 > point[1]):
            inside ^= point[0] < (x1 - x0) * (point[1] - y0) / (y1 - y0) + x0
    return inside


def _away(outline, point):
    ways = np.roll(outline, -1, axis=0) - outline
    share = ((point - outline) * ways).sum(axis=1) / np.maximum((ways**2).sum(axis=1), 1e-12)
    nearest = outline + np.clip(share, 0.0, 1.0)[:, None] * ways
    return float(np.hypot(*(point - nearest).T).min())
