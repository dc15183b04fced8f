"""From a plan to its price."""
