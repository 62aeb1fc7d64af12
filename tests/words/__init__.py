"""How well free words are understood."""
