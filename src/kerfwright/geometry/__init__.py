"""Flat float64 arrays for lines and regions, in millimetres with y pointing up."""
