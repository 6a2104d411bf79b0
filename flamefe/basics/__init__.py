"""Ground floor: errors, tables against temperature, linear solves, acceleration, clock."""
