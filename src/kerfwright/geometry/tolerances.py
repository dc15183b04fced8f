"""Lengths below which two things count as the same, in millimetres."""

CHORD_MM = 0.01
"""Furthest that a straight piece may stray from the curve it stands for."""

JOIN_MM = 0.05
"""Ends this close belong together: half the width of a fine kerf."""

GAP_MM = 0.5
"""Gaps up to this wide are closed, and reported."""

SAME_MM = 1e-3
"""Points this close are one point; well below any machine's step."""

COORDINATE_LIMIT_MM = 1e5
"""A coordinate beyond 100 m is a damaged file, not a drawing."""
