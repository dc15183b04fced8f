"""Which stroke when, from which end."""
