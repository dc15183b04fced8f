"""Kerfwright plans a small laser shop's order, from the drawing to the machine program."""

__version__ = "0.1.0"
