"""The shop's own facts: machine, materials with their recipes, stock, and the order."""
