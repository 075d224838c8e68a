"""Combs of own photos drawn ahead: none is kept that was taken before a photo was put right."""

import threading

import numpy as np

from larvasight.app.comb_supply import CombSupply
from larvasight.app.jobs import wait_for_jobs
from larvasight.desk.practising import prepare_comb
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH
from larvasight.practice.drills import PICK_ON_OWN


def test_a_comb_being_taken_when_a_photo_is_put_right_is_taken_anew(qtbot):
    supply, begun, gate = CombSupply(np.random.default_rng(1)), [], threading.Event()

    def take(drill, seed, limits):
        begun.append(seed)
        gate.wait(10)
        return prepare_comb(PICK_FROM_PATCH, seed, size_px=(320, 240), limits=limits)

    supply.take_own = take
    supply.want(PICK_ON_OWN, Limits())
    qtbot.waitUntil(lambda: len(begun) == 1, timeout=10_000)
    supply.drop_own()
    gate.set()
    qtbot.waitUntil(lambda: supply.n_ready(PICK_ON_OWN) == 1, timeout=20_000)
    assert len(begun) == 2
    supply.drop_own()
    assert supply.n_ready(PICK_ON_OWN) == 0
    wait_for_jobs()
