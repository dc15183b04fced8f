"""Writes programs, layouts, tickets and the plan."""
