"""The README's picture: the ready line heat, hottest places and the shape that is left.

    python benchmarks/picture.py

Writes `notebooks/hopper_wall_line.png`.
"""

import tempfile
from pathlib import Path

from PIL import Image

import flamefe
from flamefe.reporting.pictures import peak_temperature_picture, shape_picture
from flamefe.study.examples import example_path

FILE = Path(__file__).parents[1] / "notebooks" / "hopper_wall_line.png"
COLOURS, HALF = 128, 2


def main() -> None:
    """Run the ready case and put two pictures side by side."""
    result = flamefe.run(flamefe.load_case(example_path("hopper_wall_line")))
    with tempfile.TemporaryDirectory() as folder:
        drawn = [
            Image.open(draw(result, Path(folder) / f"{draw.__name__}.png", three_d=False))
            .convert("RGB")
            .reduce(HALF)
            for draw in (peak_temperature_picture, shape_picture)
        ]
    both = Image.new("RGB", (sum(one.width for one in drawn), drawn[0].height), "white")
    both.paste(drawn[0], (0, 0))
    both.paste(drawn[1], (drawn[0].width, 0))
    both.quantize(COLOURS).save(FILE, optimize=True)
    print(f"{FILE.name}: {FILE.stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
