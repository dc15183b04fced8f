"""Reads SVG drawings."""
