"""The flame, its path and the temperature it leaves."""
