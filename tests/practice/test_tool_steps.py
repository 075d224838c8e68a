"""Where the tool goes in, step by step: on after four hits of five, back after one or none."""

import pytest

from larvasight.practice.tool_steps import STEP_WORDS, ToolCourse, ToolStep, course_after


def after(course, *hits):
    for is_hit in hits:
        course = course.after(is_hit=is_hit)
    return course


def test_it_begins_with_wide_curves_in_clear_light():
    assert ToolCourse().step is ToolStep.WIDE_CURVES
    assert course_after([]).step is ToolStep.WIDE_CURVES


def test_four_of_five_go_one_step_on_and_count_anew():
    course = after(ToolCourse(), True, True, False, True)
    assert course.step is ToolStep.WIDE_CURVES
    course = course.after(is_hit=True)
    assert course.step is ToolStep.NEARLY_STRAIGHT
    assert course.last_hits == ()


def test_four_hits_alone_are_not_five_entries():
    assert after(ToolCourse(), *[True] * 4).step is ToolStep.WIDE_CURVES


def test_only_the_last_five_count():
    assert after(ToolCourse(), *[False] * 6, *[True] * 4).step is ToolStep.NEARLY_STRAIGHT


def test_one_hit_of_five_goes_a_step_back_and_never_below_the_first():
    course = ToolCourse(step=ToolStep.DIM_LIGHT)
    assert after(course, False, True, False, False, False).step is ToolStep.NEAR_A_WALL
    assert after(course, False, True, True, False, False).step is ToolStep.DIM_LIGHT
    assert after(ToolCourse(), *[False] * 20).step is ToolStep.WIDE_CURVES


def test_the_last_step_stays():
    assert after(ToolCourse(step=ToolStep.OTHER_HAND), *[True] * 9).step is ToolStep.OTHER_HAND


def test_a_course_is_found_again_from_what_is_kept():
    course, kept = ToolCourse(), []
    for number in range(37):
        is_hit = number % 7 != 3
        kept.append((int(course.step), is_hit))
        course = course.after(is_hit=is_hit)
    assert course_after(kept) == course
    assert course_after(kept[-12:]).step == course.step


def test_a_step_that_is_none_is_refused():
    with pytest.raises(ValueError, match="step must lie between"):
        course_after([(9, True)])


def test_every_step_has_words():
    assert set(STEP_WORDS) == set(ToolStep)
