"""The perfect squared square of lowest order: 21 squares, side 112 (A. J. W. Duijvestijn 1978,
"Simple perfect squared square of lowest order", Journal of Combinatorial Theory B 25)."""

SIDE = 112

BOUWKAMP_CODE = [
    [50, 35, 27],
    [8, 19],
    [15, 17, 11],
    [6, 24],
    [29, 25, 9, 2],
    [7, 18],
    [16],
    [42],
    [4, 37],
    [33],
]
"""Sides of the squares, row by row from the top (Bouwkamp's notation)."""
