"""Own photos as practice: checked cells become combs, unsure ones are never scored."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from larvasight.desk.broken_off import open_round
from larvasight.desk.by_hand import ByHand
from larvasight.desk.hand_cells import handles_of, lattice_in, moved_by
from larvasight.desk.hand_saving import save_marks
from larvasight.desk.keeping import Keeper
from larvasight.desk.own_photos import keep_photo, move_cells
from larvasight.desk.own_sets import SURE_LEAST, Use, own_cells, prepare_own_comb, use_words
from larvasight.desk.own_told import NOT_SCORED
from larvasight.desk.practising import Session
from larvasight.errors import LarvasightError, NoOwnCombError
from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.practice.drills import PICK_ON_OWN, TAKE_ON_OWN, TEST_ON_OWN
from larvasight.practice.own_combs import Half, half_of
from larvasight.practice.scoring import Outcome
from larvasight.records.store import Store
from larvasight.records.types import KnownAge, PracticePhoto
from larvasight.render import paint, random_scene, save_picture
from larvasight.sheet import Content, LatticeByHand, sheet_from_json
from larvasight.vision.scale import ScaleGuess

NOW = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def kept_once(tmp_path_factory):
    """Measure one drawn photo, once for all tests."""
    folder = tmp_path_factory.mktemp("own")
    scene = random_scene(np.random.default_rng(2), size_px=(960, 640), pitch_px=80.0)
    save_picture(folder / "brood.png", paint(scene), scene.camera.distance_mm)
    with Store.open(folder / "records.db", now=NOW, wait_ms=50) as opened:
        opened.add_learner("Mira", now=NOW)
        keep_photo(
            *(opened, folder, folder / "brood.png"),
            guess=ScaleGuess(),
            limits=Limits(),
            now=NOW,
        )
    return folder


@pytest.fixture
def store(kept_once, tmp_path):
    (tmp_path / "records.db").write_bytes((kept_once / "records.db").read_bytes())
    (tmp_path / "photos").symlink_to(kept_once / "photos")
    with Store.open(tmp_path / "records.db", now=NOW, wait_ms=50) as opened:
        yield opened


@pytest.fixture
def marks(store):
    (photo,) = store.photos()
    sheet = sheet_from_json(store.photo_sheet(photo.sha256))
    return ByHand(store, sheet, Limits(), lambda: NOW)


@pytest.fixture
def practised(store, marks):
    store.put_practice_photo(
        PracticePhoto(sha256=marks.sha256, is_all_checked=True, made_at_utc=NOW)
    )
    return store


def prepare(store, tmp_path, drill, seed=1):
    return prepare_own_comb(drill, seed, store=store, data=tmp_path, limits=Limits(), now=NOW)


def known(hours_since_laying, laid_h=12.0):
    return KnownAge(
        laid_from_utc=NOW - timedelta(hours=hours_since_laying),
        laid_to_utc=NOW - timedelta(hours=hours_since_laying - laid_h),
        taken_at_utc=NOW,
    )


def test_only_cells_that_were_checked_are_sure(marks):
    assert own_cells(marks, is_all_checked=False, limits=Limits()).n_sure == 0
    cells = marks.sheet.cells
    index = next(k for k, c in enumerate(cells) if c.content is Content.EMPTY and not c.flags)
    assert marks.confirm(index) == index
    assert marks.is_confirmed(index)
    assert marks.confirm(index) is None
    found = own_cells(marks, is_all_checked=False, limits=Limits())
    assert [k for k, cell in found.cells.items() if cell.is_plain] == [index]
    marks.undo()
    assert own_cells(marks, is_all_checked=False, limits=Limits()).n_sure == 0


def test_all_checked_means_every_cell_but_those_nobody_can_tell(marks):
    found = own_cells(marks, is_all_checked=True, limits=Limits())
    for index, shown in found.cells.items():
        cell = marks.sheet.cells[index]
        if cell.content in (Content.UNCLEAR, Content.COVERED):
            assert not shown.is_plain
        if cell.content in (Content.EMPTY, Content.STORES, Content.CAPPED) and not cell.flags:
            assert shown.is_plain
        if cell.content is Content.LARVA and shown.is_plain:
            low_h, high_h = cell.age_h_lo, cell.age_h_hi
            limits = Limits()
            assert limits.young_h <= low_h <= high_h <= limits.old_h or (
                low_h > limits.old_h or high_h < limits.young_h
            )


def test_a_known_age_makes_larvae_sure_that_were_not(marks):
    before = own_cells(marks, is_all_checked=True, limits=Limits())
    marks.set_known_age(known(98.0, laid_h=4.0))
    wide = Limits(young_h=0.0, best_young_h=5.0, best_old_h=24.0, old_h=40.0)
    after = own_cells(marks, is_all_checked=True, limits=wide)
    larvae = [k for k, c in enumerate(marks.sheet.cells) if c.content is Content.LARVA]
    unmeasured = [k for k in larvae if k in after.cells and marks.sheet.cells[k].age_h is None]
    assert all(before.cells[k].age_h is None for k in unmeasured)
    for k in unmeasured:
        assert after.cells[k].age_h == pytest.approx((16.0 + 28.0) / 2.0)


def test_what_contradicts_the_known_age_is_never_scored(marks):
    marks.set_known_age(known(170.0))
    found = own_cells(marks, is_all_checked=True, limits=Limits())
    against = [
        k
        for k, cell in enumerate(marks.sheet.cells)
        if marks.contradicts(cell) and k in found.cells
    ]
    assert against
    assert not any(found.cells[k].is_plain for k in against)


def test_a_comb_asks_one_half_and_comes_from_the_photo(practised, tmp_path, marks):
    comb = prepare(practised, tmp_path, PICK_ON_OWN)
    assert comb.recipe["photo"] == marks.sha256
    assert {half_of(marks.sha256, c.row, c.col) for c in comb.asked} == {Half.PRACTICE}
    test = prepare(practised, tmp_path, TEST_ON_OWN)
    assert {half_of(marks.sha256, c.row, c.col) for c in test.asked} == {Half.TEST}
    names = {(c.row, c.col) for c in comb.asked} & {(c.row, c.col) for c in test.asked}
    assert names == set()


def test_the_part_that_was_cut_out_shows_the_cells_where_it_says(practised, tmp_path, kept_once):
    from larvasight.vision.photo import load_photo

    comb = prepare(practised, tmp_path, PICK_ON_OWN)
    height, width = comb.pixels.shape[:2]
    whole = load_photo(kept_once / "brood.png").pixels
    assert height <= whole.shape[0] * 4
    first = {
        (c.row, c.col): c
        for c in sheet_from_json(practised.photo_sheet(comb.recipe["photo"])).cells
    }
    for index, asked in enumerate(comb.asked):
        cell = comb.cell_of(index)
        assert (cell.row, cell.col) == (asked.row, asked.col)
        x, y = cell.centre_xy_px
        assert 0.0 <= x < width
        assert 0.0 <= y < height
        zoom = cell.px_per_mm / first[cell.row, cell.col].px_per_mm
        assert zoom == pytest.approx(round(zoom))
        here = comb.pixels[round(y), round(x)].astype(float)
        ox, oy = first[cell.row, cell.col].centre_xy_px
        assert np.abs(here - whole[round(oy), round(ox)]).max() < 40.0


def test_one_by_one_only_sure_cells_are_asked(practised, tmp_path):
    comb = prepare(practised, tmp_path, TAKE_ON_OWN)
    assert all(cell.is_plain for cell in comb.asked)
    assert len(comb.asked) <= TAKE_ON_OWN.n_asked


def test_too_few_sure_cells_are_said_in_one_sentence(store, tmp_path, marks):
    with pytest.raises(NoOwnCombError, match="None of your photos"):
        prepare(store, tmp_path, PICK_ON_OWN)
    store.put_practice_photo(
        PracticePhoto(sha256=marks.sha256, is_all_checked=False, made_at_utc=NOW)
    )
    with pytest.raises(NoOwnCombError, match=str(SURE_LEAST)):
        prepare(store, tmp_path, PICK_ON_OWN)


def test_answers_are_kept_as_of_a_photo_and_unsure_cells_never_count(practised, tmp_path):
    comb = prepare(practised, tmp_path, PICK_ON_OWN)
    keeper = Keeper(practised, tell=lambda told: told(), trouble=lambda _words: None)
    (learner,) = practised.learners()
    session = Session(comb, keeper, learner_id=learner.id, limits=Limits(), now=lambda: NOW)
    session.begin()
    for index in range(len(comb.asked)):
        session.toggle(index, lambda: None)
    session.enter(lambda: None)
    assert keeper.flush(5.0)
    keeper.close(1.0)
    (kept,) = practised.kept_rounds(learner.id, [PICK_ON_OWN.key])
    assert kept.recipe["photo"] == comb.recipe["photo"]
    assert kept.answers == (Answer.TAKE,) * len(comb.asked)
    assert open_round(practised, learner.id, now=NOW) is None
    for index, cell in enumerate(comb.asked):
        if not cell.is_plain:
            assert session.outcome(index) is Outcome.HIDDEN
            assert comb.own[index].words == NOT_SCORED
            assert session.why(index).verdict == "Not scored"
    assert any(not cell.is_plain for cell in comb.asked)
    table = practised.answers(learner.id)
    assert table.is_plain.sum() == sum(cell.is_plain for cell in comb.asked)


def test_ages_are_told_as_bands(practised, tmp_path):
    comb = prepare(practised, tmp_path, PICK_ON_OWN)
    larvae = [
        k for k, cell in enumerate(comb.asked) if cell.content is Content.LARVA and cell.is_plain
    ]
    assert larvae
    for k in larvae:
        low, high = comb.own[k].words.removesuffix(" h").split("\N{EN DASH}")
        assert float(low) <= comb.asked[k].age_h <= float(high) + 0.5


def test_the_use_of_a_photo_is_said_with_its_numbers(marks):
    cells = own_cells(marks, is_all_checked=True, limits=Limits())
    use = Use(cells=cells, sha256=marks.sha256, is_all_checked=True)
    n_practice, n_test = use.n_sure(Half.PRACTICE), use.n_sure(Half.TEST)
    assert n_practice + n_test == cells.n_sure
    words = use_words(use)
    assert f"{n_practice} to practise on" in words
    assert f"{n_test} kept apart" in words
    assert use.is_enough is (min(n_practice, n_test) >= SURE_LEAST)


def test_a_set_without_a_larva_to_take_says_so(marks, store):
    # By the laying every larva is far past what is wanted.
    marks.set_known_age(known(150.0))
    cells = own_cells(marks, is_all_checked=True, limits=Limits())
    use = Use(cells=cells, sha256=marks.sha256, is_all_checked=True)
    assert use.is_enough
    assert not use.has_larva_to_take
    assert "there is only something to leave" in use_words(use)
    marks.set_known_age(known(90.0))
    young = own_cells(marks, is_all_checked=True, limits=Limits(old_h=60.0))
    use = Use(cells=young, sha256=marks.sha256, is_all_checked=True)
    assert use.has_larva_to_take
    assert "only something to leave" not in use_words(use)


def test_the_known_age_stands_in_the_saved_sheet(marks, tmp_path):
    import json

    marks.set_known_age(known(98.0))
    save_marks(tmp_path / "marks.json", marks)
    data = json.loads((tmp_path / "marks.json").read_text(encoding="utf-8"))
    assert (data["known_age"]["age_h_lo"], data["known_age"]["age_h_hi"]) == (8.0, 28.0)
    larvae = [cell for cell in data["cells"] if cell["content"] == "larva"]
    assert larvae
    for cell in larvae:
        told = cell["known_age"]
        assert (told["age_h_lo"], told["age_h_hi"]) == (8.0, 28.0)
        if cell["age_h_lo"] is not None:
            touches = cell["age_h_lo"] <= 28.0 and cell["age_h_hi"] >= 8.0
            assert told["agrees"] is touches


def test_limits_in_force_decide_what_is_sure(marks):
    narrow = replace(Limits(), young_h=12.0, old_h=24.0)
    wide = Limits(young_h=0.0, best_young_h=12.0, best_old_h=24.0, old_h=60.0)
    larva = [k for k, c in enumerate(marks.sheet.cells) if c.content is Content.LARVA]
    n = []
    for limits in (narrow, wide):
        cells = own_cells(marks, is_all_checked=True, limits=limits).cells
        n.append(sum(cells[k].is_plain for k in larva if k in cells))
    assert n[0] != n[1]


def test_a_photo_that_is_gone_is_passed_over(practised, marks, tmp_path, store):
    other = "1" * 64
    store.add_photo(other, name="gone.png", suffix=".png", now=NOW)
    store.set_photo_sheet(other, store.photo_sheet(marks.sha256))
    store.put_practice_photo(PracticePhoto(sha256=other, is_all_checked=True, made_at_utc=NOW))
    for seed in range(6):
        comb = prepare(store, tmp_path, PICK_ON_OWN, seed)
        assert comb.recipe["photo"] == marks.sha256
    store.remove_practice_photo(marks.sha256)
    with pytest.raises(LarvasightError, match=r"gone\.png does not exist"):
        prepare(store, tmp_path, PICK_ON_OWN)


def test_what_was_practised_on_is_never_tested_with_after_a_move_by_a_cell(
    practised, marks, store, tmp_path
):
    (photo,) = practised.photos()

    def asked(drill):
        sheet = sheet_from_json(store.photo_sheet(photo.sha256))
        at = {(c.row, c.col): c.centre_xy_px for c in sheet.cells}
        combs = [prepare(store, tmp_path, drill, seed) for seed in range(6)]
        return {at[cell.row, cell.col] for comb in combs for cell in comb.asked}

    trained = asked(PICK_ON_OWN)
    sheet = marks.sheet
    lattice, size_px = lattice_in(sheet), (sheet.photo.width_px, sheet.photo.height_px)
    before = handles_of(lattice, size_px)
    for step in lattice.cells[0].steps_xy_px:
        moved = moved_by(lattice, before, before + np.array(step), size_px)
        move_cells(
            *(store, tmp_path, photo, (LatticeByHand.MOVED, moved)),
            guess=ScaleGuess(),
            limits=Limits(),
            now=NOW,
        )
        tested = asked(TEST_ON_OWN)
        assert len(tested) > 4
        apart_px = min(np.hypot(*np.subtract(a, b)) for a in trained for b in tested)
        assert apart_px > 0.5 * sheet.scale.pitch_px
