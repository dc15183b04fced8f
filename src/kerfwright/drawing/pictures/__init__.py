"""Reads pictures made of dots, and traces them into areas."""
