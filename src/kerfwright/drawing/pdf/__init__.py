"""Reads the pages of PDF documents."""
