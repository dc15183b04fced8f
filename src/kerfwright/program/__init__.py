"""Reads machine programs back and proves them."""
