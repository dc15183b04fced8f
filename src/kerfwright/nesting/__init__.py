"""Places parts on sheets."""
