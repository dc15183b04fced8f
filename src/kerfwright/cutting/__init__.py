"""Outlines into cuts: kerf, and edges that two parts share."""
