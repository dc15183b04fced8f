"""Trial pieces that are burned and read, and the settings that their readings tell."""
