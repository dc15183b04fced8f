"""Reads drawings: files in, shapes in true millimetres out."""
