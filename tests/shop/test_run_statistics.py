"""What is learned from runs: the bias found, odd runs without weight, a range that keeps its word.

The runs are drawn at random from known ratios, so that what should be found is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import linprog
from scipy.stats import norm

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.run_statistics import (
    COVERED,
    LEAST_SPREAD,
    LENGTHENED,
    ratios_of_runs,
)

Noise = Callable[[np.random.Generator, int], FloatArray]

NOISES: dict[str, Noise] = {
    "normal": lambda random, n: random.normal(0.0, 0.08, n),
    "heavy tails": lambda random, n: 0.06 * random.standard_t(3, n),
    "never faster": lambda random, n: random.exponential(0.08, n),
}


def alone(count: int) -> FloatArray:
    """Shares of runs with only one process."""
    return np.ones((count, 1))


def mixed(random: np.random.Generator, count: int) -> FloatArray:
    return random.dirichlet([0.6, 0.6, 0.3], count)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_runs_say_nothing(count: int) -> None:
    assert ratios_of_runs(alone(count), np.full(count, 1.1)) is None


def test_one_process_has_the_median() -> None:
    ratios = np.array([1.30, 1.02, 1.10, 0.95, 1.08])
    learned = ratios_of_runs(alone(5), ratios)
    assert learned is not None
    assert learned.median == pytest.approx(np.median(ratios))
    assert learned.by_process == pytest.approx([np.median(ratios)])
    assert learned.expected(np.ones(1)) == pytest.approx(1.08)


def test_half_and_double_are_equally_far_off() -> None:
    there = ratios_of_runs(alone(4), np.array([0.5, 0.9, 1.0, 2.0]))
    back = ratios_of_runs(alone(4), 1.0 / np.array([0.5, 0.9, 1.0, 2.0]))
    assert there is not None
    assert back is not None
    assert there.median == pytest.approx(1.0 / back.median)
    assert there.low == pytest.approx(1.0 / back.high)


def test_every_process_gets_its_own_bias_back() -> None:
    random = np.random.default_rng(11)
    bias = np.array([1.03, 1.25, 1.10])
    shares = random.dirichlet([0.5, 0.5, 0.5], 60)
    ratios = np.exp(shares @ np.log(bias) + random.normal(0.0, 0.03, 60))
    learned = ratios_of_runs(shares, ratios)
    assert learned is not None
    assert learned.own.all()
    assert learned.by_process == pytest.approx(bias, rel=0.02)
    assert learned.expected(np.array([0.5, 0.5, 0.0])) == pytest.approx(
        math.sqrt(1.03 * 1.25), rel=0.02
    )


def test_process_of_too_few_runs_goes_by_the_median() -> None:
    shares = np.array([[1.0, 0.0]] * 5 + [[0.0, 1.0]] * 2)
    learned = ratios_of_runs(shares, np.array([1.1] * 5 + [1.6] * 2))
    assert learned is not None
    assert not learned.own.any()
    assert learned.by_process == pytest.approx([1.1, 1.1])


def test_what_shares_lack_goes_by_the_median() -> None:
    learned = ratios_of_runs(alone(3), np.array([1.2, 1.2, 1.2]))
    assert learned is not None
    assert learned.expected(np.array([0.25])) == pytest.approx(1.2)


@pytest.mark.parametrize("wrong", [8.0, 0.05])
def test_odd_runs_do_not_matter(wrong: float) -> None:
    random = np.random.default_rng(4)
    shares = mixed(random, 24)
    ratios = np.exp(shares @ np.log([1.05, 1.2, 1.1]) + random.normal(0.0, 0.02, 24))
    honest = ratios_of_runs(shares, ratios)
    spoilt = ratios.copy()
    spoilt[[3, 9, 17]] *= wrong
    learned = ratios_of_runs(shares, spoilt)
    assert honest is not None
    assert learned is not None
    assert np.flatnonzero(learned.set_aside).tolist() == [3, 9, 17]
    assert not honest.set_aside.any()
    assert learned.by_process == pytest.approx(honest.by_process, rel=0.03)
    assert (learned.low, learned.high) == pytest.approx((honest.low, honest.high), abs=0.03)


def test_a_run_is_set_aside_only_where_three_others_are_left() -> None:
    learned = ratios_of_runs(alone(3), np.array([1.1, 1.1, 4.0]))
    assert learned is not None
    assert not learned.set_aside.any()
    assert learned.median == pytest.approx(1.1)
    assert learned.high > 3.0, "with three runs nobody knows which one is odd"


def test_runs_exactly_alike_still_leave_a_range() -> None:
    learned = ratios_of_runs(alone(6), np.full(6, 1.1))
    assert learned is not None
    assert (learned.low, learned.high) == pytest.approx(
        (math.exp(-LEAST_SPREAD), math.exp(LEAST_SPREAD))
    )


@pytest.mark.parametrize("count", [3, 4, 5, 8, 9, 12, 30])
@pytest.mark.parametrize("noise", NOISES)
def test_range_covers_four_of_five_new_runs(noise: str, count: int) -> None:
    random = np.random.default_rng(count)
    trials = 400
    covered = 0
    for _ in range(trials):
        off = NOISES[noise](random, count + 1)
        learned = ratios_of_runs(alone(count), np.exp(0.1 + off[:-1]))
        assert learned is not None
        new = math.exp(0.1 + off[-1]) / learned.expected(np.ones(1))
        covered += learned.low <= new <= learned.high
    # four standard deviations of a share found in 400 trials are 8 %
    assert covered / trials == pytest.approx(COVERED, abs=0.08)


def test_range_covers_new_runs_of_several_processes() -> None:
    random = np.random.default_rng(2)
    trials, covered = 300, 0
    for _ in range(trials):
        shares = mixed(random, 16)
        off = shares @ np.log([1.02, 1.3, 1.1]) + random.normal(0.0, 0.06, 16)
        learned = ratios_of_runs(shares[:-1], np.exp(off[:-1]))
        assert learned is not None
        new = math.exp(off[-1]) / learned.expected(shares[-1])
        covered += learned.low <= new <= learned.high
    assert covered / trials == pytest.approx(COVERED, abs=0.09)


@pytest.mark.parametrize(("count", "lengthened"), LENGTHENED.items())
def test_lengthened_ranges_are_those_of_normal_order_statistics(
    count: int, lengthened: float
) -> None:
    """Joint density of least and greatest: David and Nagaraja, Order Statistics, section 2.2."""
    grid, step = np.linspace(-7.0, 7.0, 1401, retstep=True)
    least, greatest = np.meshgrid(grid, grid, indexing="ij")
    inside = np.clip(norm.cdf(greatest) - norm.cdf(least), 0.0, None)
    density = count * (count - 1) * norm.pdf(least) * norm.pdf(greatest) * inside ** (count - 2)
    more = lengthened * (greatest - least)
    covered = density * (norm.cdf(greatest + more) - norm.cdf(least - more))
    share = float(covered[greatest >= least].sum()) * step**2
    assert share == pytest.approx(COVERED, abs=0.005)


def test_factors_leave_the_least_sum_of_absolute_deviations() -> None:
    """Against the exact linear programme, solved by SciPy (HiGHS)."""
    random = np.random.default_rng(8)
    shares = random.dirichlet([0.5, 0.5], 25)
    ratios = np.exp(shares @ np.array([0.0, 0.2]) + 0.1 * random.standard_t(2, 25))
    learned = ratios_of_runs(shares, ratios)
    assert learned is not None
    off = np.log(ratios) - math.log(learned.median)
    rows = np.vstack([shares, np.eye(2)])
    wanted = np.concatenate([off, np.zeros(2)])
    one = np.eye(len(rows))
    best = linprog(
        np.concatenate([np.zeros(2), np.ones(2 * len(rows))]),
        A_eq=np.hstack([rows, one, -one]),
        b_eq=wanted,
        bounds=[(None, None)] * 2 + [(0.0, None)] * (2 * len(rows)),
    )
    differences = np.log(learned.by_process / learned.median)
    found = np.abs(wanted - rows @ differences).sum()
    assert found == pytest.approx(best.fun, rel=0.01)


@given(
    st.integers(3, 12).flatmap(
        lambda n: st.tuples(
            arrays(np.float64, (n, 2), elements=st.floats(0.01, 1.0)),
            arrays(np.float64, n, elements=st.floats(0.2, 5.0)),
        )
    )
)
def test_order_of_runs_does_not_matter_and_the_range_holds_the_expected(
    drawn: tuple[FloatArray, FloatArray],
) -> None:
    seconds, ratios = drawn
    shares = seconds / seconds.sum(axis=1, keepdims=True)
    learned = ratios_of_runs(shares, ratios)
    turned = ratios_of_runs(shares[::-1], ratios[::-1])
    assert learned is not None
    assert turned is not None
    assert learned.low < 1.0 < learned.high
    assert (learned.low, learned.high) == pytest.approx((turned.low, turned.high), rel=1e-6)
    expected = learned.expected(np.array([0.5, 0.5]))
    # weights are 1/deviation: a factor cannot leave what the runs themselves took by much
    assert 0.5 * ratios.min() < expected < 2.0 * ratios.max()


@pytest.mark.parametrize(
    ("shares", "ratios"),
    [
        (np.ones((3, 1)), np.ones(4)),
        (np.full((3, 2), 0.4), np.ones(3)),
        (np.ones((3, 1)), np.array([1.0, 0.0, 1.0])),
        (np.ones((3, 1)), np.array([1.0, math.nan, 1.0])),
    ],
)
def test_numbers_that_are_no_runs_are_refused(shares: FloatArray, ratios: FloatArray) -> None:
    with pytest.raises(ValueError, match=r"shares|ratio"):
        ratios_of_runs(shares, ratios)
