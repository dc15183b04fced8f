"""Travel beside an exact method and beside a published tour.

Held-Karp: M. Held and R. M. Karp, "A Dynamic Programming Approach to Sequencing Problems",
*Journal of SIAM* 10(1), 1962, written anew here for an open path from the beam's start, in the
machine's travel time.

berlin52: 52 places in Berlin, from TSPLIB (G. Reinelt, *ORSA Journal on Computing* 3(4), 1991),
with the optimal tour of its file berlin52.opt.tour. Both are written down from memory; that the
tour measures exactly the published optimum, 7542, is checked first. TSPLIB measures a round trip
in rounded Euclidean lengths; a beam that goes one way, in seconds of the slower axis, has another
optimum, which nobody published. So the published tour, cut open at the place nearest the beam's
start and followed the better way round, priced in our metric, is an upper bound of the optimum;
ours may be at most 1 % above it (and is allowed to be below).
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from kerfwright.sequence.order import sequence
from kerfwright.shop.machine import Machine
from ordered_strokes import clock_s, line, travel_of

PLACES = (
    (565, 575),
    (25, 185),
    (345, 750),
    (945, 685),
    (845, 655),
    (880, 660),
    (25, 230),
    (525, 1000),
    (580, 1175),
    (650, 1130),
    (1605, 620),
    (1220, 580),
    (1465, 200),
    (1530, 5),
    (845, 680),
    (725, 370),
    (145, 665),
    (415, 635),
    (510, 875),
    (560, 365),
    (300, 465),
    (520, 585),
    (480, 415),
    (835, 625),
    (975, 580),
    (1215, 245),
    (1320, 315),
    (1250, 400),
    (660, 180),
    (410, 250),
    (420, 555),
    (575, 665),
    (1150, 1160),
    (700, 580),
    (685, 595),
    (685, 610),
    (770, 610),
    (795, 645),
    (720, 635),
    (760, 650),
    (475, 960),
    (95, 260),
    (875, 920),
    (700, 500),
    (555, 815),
    (830, 485),
    (1170, 65),
    (830, 610),
    (605, 625),
    (595, 360),
    (1340, 725),
    (1740, 245),
)

PUBLISHED_TOUR = (
    1,
    49,
    32,
    45,
    19,
    41,
    8,
    9,
    10,
    43,
    33,
    51,
    11,
    52,
    14,
    13,
    47,
    26,
    27,
    28,
    12,
    25,
    4,
    6,
    15,
    5,
    24,
    48,
    38,
    37,
    40,
    39,
    36,
    35,
    34,
    44,
    46,
    16,
    29,
    50,
    20,
    23,
    30,
    2,
    7,
    42,
    21,
    17,
    3,
    18,
    31,
    22,
)
PUBLISHED_OPTIMUM = 7542


Spot = tuple[float, float]


def test_published_tour_is_written_down_rightly() -> None:
    assert sorted(PUBLISHED_TOUR) == list(range(1, 53))
    tour = [PLACES[city - 1] for city in PUBLISHED_TOUR]
    # TSPLIB's EUC_2D: nint of every length
    lengths = [int(math.dist(a, b) + 0.5) for a, b in itertools.pairwise([*tour, tour[0]])]
    assert sum(lengths) == PUBLISHED_OPTIMUM


@pytest.mark.parametrize(
    "start", [(0.0, 0.0), (1740.0, 0.0), (1740.0, 1175.0), (0.0, 1175.0), (800.0, 600.0)]
)
def test_berlin52_beside_its_published_tour(machine: Machine, start: Spot) -> None:
    strokes = [line([place], k) for k, place in enumerate(PLACES)]
    toolpath = sequence(strokes, [], machine, start)
    assert sorted(toolpath.moves["source"][toolpath.burning].tolist()) == list(range(52))
    tour = [PLACES[city - 1] for city in PUBLISHED_TOUR]
    cut = min(range(52), key=lambda k: math.dist(tour[k], start))
    opened = [*tour[cut:], *tour[:cut]]
    ways = (opened, [opened[0], *opened[:0:-1]])
    bound = min(
        sum(clock_s(a, b, machine) for a, b in itertools.pairwise([start, *way])) for way in ways
    )
    assert travel_of(toolpath, machine) <= 1.01 * bound


@pytest.mark.parametrize("seed", range(5))
def test_twelve_places_beside_held_karp(machine: Machine, seed: int) -> None:
    places = np.random.default_rng(seed).uniform(0.0, 500.0, (12, 2))
    spots = [(float(x), float(y)) for x, y in places]
    ours = travel_of(
        sequence([line([spot], k) for k, spot in enumerate(spots)], [], machine), machine
    )
    best = held_karp_s(spots, (0.0, 0.0), machine)
    assert best - 1e-9 <= ours <= 1.02 * best


def held_karp_s(spots: list[Spot], start: Spot, machine: Machine) -> float:
    """Least seconds from ``start`` through all spots, by dynamic programming over subsets."""
    n = len(spots)
    leg = np.array([[clock_s(a, b, machine) for b in spots] for a in spots])
    first = np.array([clock_s(start, b, machine) for b in spots])
    until = np.full((1 << n, n), np.inf)
    for k in range(n):
        until[1 << k, k] = first[k]
    for been in range(1, 1 << n):
        for k in range(n):
            if not been >> k & 1:
                reached = until[been, :] + leg[:, k]
                until[been | 1 << k, k] = min(until[been | 1 << k, k], reached.min())
    return float(until[-1].min())
