"""From a case to a result."""
