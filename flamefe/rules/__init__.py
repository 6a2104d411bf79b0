"""Closed-form shrinkage rules beside the simulation."""
