"""Which heats to make: torches and patterns for a target."""
