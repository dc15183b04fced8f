"""Our own search for short strips, on no-fit polygons.

Numbers in, numbers out: it knows of rings, turns and a height, and nothing of orders or sheets.
"""
