"""How long a toolpath takes on a machine."""
