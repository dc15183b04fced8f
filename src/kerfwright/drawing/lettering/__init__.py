"""Sets text in the fonts that are there, as outlines."""
