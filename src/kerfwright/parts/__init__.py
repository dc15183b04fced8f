"""Gives shapes their process and recognises parts: outline, holes, marks."""
