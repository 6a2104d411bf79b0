"""What remains: distortion, limits, fields."""
