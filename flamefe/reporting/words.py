"""Texts made fit for one line and numbers made fit for reading; they stand in ``basics.words``."""

from flamefe.basics.words import number, one_line

__all__ = ["number", "one_line"]
