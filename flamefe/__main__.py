"""Lets ``python -m flamefe`` do what the script ``flamefe`` does."""

from flamefe.cli import main

if __name__ == "__main__":
    main()
