"""Reads DXF drawings."""
