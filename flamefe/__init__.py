"""What a flame does to a metal part: flame straightening and line heating by finite elements."""
