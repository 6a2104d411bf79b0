"""Bring the outputs in the README and in `notebooks/README.md` and the README's tables up to date.

    python benchmarks/readme.py [--speed] [--accuracy]

Every ``$ command`` in a console block and every ``>>>`` in a Python block is run, and what it
prints is put under it. --speed and --accuracy run the tables of costs and of accuracy again too.
"""

import argparse
import contextlib
import io
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from doctest import DocTestParser
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
EXAMPLES = ROOT / "notebooks" / "README.md"

BLOCK = re.compile(r"^```(console|python)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
ACCURACY = re.compile(r"(<!-- accuracy -->\n).*?(<!-- /accuracy -->)", re.DOTALL)
SPEED = re.compile(r"(<!-- speed -->\n).*?(<!-- /speed -->)", re.DOTALL)


def shell(command: str) -> str:
    """What a command of ours prints, run by this Python in an empty folder."""
    words = command.split()
    if words[0] != "flamefe":
        raise ValueError(f"only flamefe itself is run, not {command!r}")
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", *words],
            cwd=folder,
            capture_output=True,
            text=True,
            check=True,
        )
    return done.stdout


def console(body: str) -> str:
    """A console block with its output as it is now."""
    commands = [line[2:] for line in body.splitlines() if line.startswith("$ ")]
    return "".join(f"$ {command}\n{shell(command)}" for command in commands)


def python(body: str) -> str:
    """A Python block with its output as it is now."""
    names: dict[str, object] = {}
    lines = []
    for example in DocTestParser().get_examples(body):
        first, *rest = example.source.splitlines()
        lines += [f">>> {first}", *(f"... {line}".rstrip() for line in rest)]
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(example.source, "README", "single"), names)
        lines += printed.getvalue().splitlines()
    return "\n".join(lines) + "\n"


RUNNERS: dict[str, Callable[[str], str]] = {"console": console, "python": python}


def blocks(text: str) -> Iterator[tuple[str, str]]:
    """Language and body of each block whose output stands in it."""
    for match in BLOCK.finditer(text):
        yield match[1], match[2]


def fresh(text: str) -> str:
    """The text with every output as it is now."""
    return BLOCK.sub(lambda m: f"```{m[1]}\n{RUNNERS[m[1]](m[2])}```", text)


def printed_by(script: str, *options: str) -> list[str]:
    """Lines that a benchmark prints."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "benchmarks" / script), *options],
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.splitlines()


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--speed", action="store_true", help="run the table of costs too")
    parser.add_argument("--accuracy", action="store_true", help="run the table of accuracy too")
    asked = parser.parse_args()
    EXAMPLES.write_text(fresh(EXAMPLES.read_text("utf-8")), "utf-8")
    text = fresh(README.read_text("utf-8"))
    if asked.accuracy:
        table = "\n".join(printed_by("accuracy.py"))
        text = ACCURACY.sub(lambda m: f"{m[1]}\n{table}\n\n{m[2]}", text)
    if asked.speed:
        lines = printed_by("speed.py", "--stored")
        table = "\n".join(line for line in lines if line.startswith("|"))
        rest = "\n".join(f"\n{line}." for line in lines if line and line[0] != "|")
        text = SPEED.sub(lambda m: f"{m[1]}\n{table}\n{rest}\n\n{m[2]}", text)
    README.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
