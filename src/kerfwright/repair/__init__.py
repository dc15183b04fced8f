"""Mends drawings: chains ends, closes gaps, drops repeats, and says so."""
