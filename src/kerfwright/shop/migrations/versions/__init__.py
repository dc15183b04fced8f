"""One file a form of the tables."""
