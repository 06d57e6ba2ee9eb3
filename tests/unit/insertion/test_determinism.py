"""The same insertion twice, in this process or in workers, is the same to the last bit."""

import multiprocessing as mp
from concurrent.futures import ProcessPoolExecutor
from dataclasses import astuple, fields, replace

import numpy as np
import pytest
from insertion_cases import in_pocket, make_case

from tipmech.insertion.case import Move
from tipmech.insertion.record import Record
from tipmech.insertion.run import Insertion, advance
from tipmech.study.evaluate import evaluate

CASES = [make_case(5e-8, 40.0, roll=0.3), make_case(1e-8, 20.0), in_pocket(make_case(2e-8, 30.0))]


def assert_same(a: Record, b: Record) -> None:
    for field in fields(Record):
        if field.name != "case":
            np.testing.assert_array_equal(getattr(a, field.name), getattr(b, field.name), err_msg=field.name)


@pytest.mark.parametrize("case", CASES, ids=["tear", "soft", "pocket"])
def test_twice_the_same(case):
    assert_same(advance(case), advance(case))


def test_an_insertion_between_others_is_the_same():
    before = advance(CASES[0])
    for case in CASES[1:]:
        advance(case)
    assert_same(before, advance(CASES[0]))


def test_moves_one_by_one_are_the_same_as_all_at_once():
    moves = (Move("advance", 9e-3), Move("turn", 0.5), Move("withdraw", 1e-3), Move("advance", 2e-3))
    case = replace(CASES[0], moves=moves)
    step_by_step = Insertion(case)
    for move in moves:
        step_by_step.carry_out(move)
    assert_same(advance(case), step_by_step.record())


def test_on_one_worker_and_two_the_same():
    context = mp.get_context("spawn")
    results = []
    for workers in (1, 2):
        with ProcessPoolExecutor(workers, context) as pool:
            results.append([repr(astuple(o)) for o in pool.map(evaluate, CASES)])
    here = [repr(astuple(evaluate(case))) for case in CASES]
    assert results[0] == results[1] == here
