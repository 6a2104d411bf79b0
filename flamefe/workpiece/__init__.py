"""The part: its mesh with named faces and its material."""
