"""`python3 drypark.py bench`: how long the answers take, on this machine, in this run.

Nothing here is a test: numbers are printed, and written to a file with `--json
FILE`. Times of a peer are taken in the same run, so that the ratio holds on a
slow or busy machine too.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from api.commands.output import whole_file
from tests.bench.bay import bay_rows
from tests.bench.cold import cold_rows
from tests.bench.engine import GOALS, engine_rows
from tests.bench.words import words_rows

Row = dict[str, object]
_WIDE = 8  # columns
STOPPED = 130


def main(arguments: Sequence[str]) -> int:
    """Run the benchmarks asked for and print their tables."""
    parser = argparse.ArgumentParser(prog="drypark.py bench", description=__doc__)
    parser.add_argument("only", nargs="*", help="cold, engine, bay, words; none: the first two")
    parser.add_argument("--sizes", default=",".join(GOALS), help="networks: S,M,L,XL,catalogue")
    parser.add_argument("--cases", type=int, default=6, help="cases for each of three seeds")
    parser.add_argument("--peers", type=int, default=2, help="how many of them the peers get")
    parser.add_argument("--json", type=Path, help="write all rows there as well")
    asked = parser.parse_args(arguments)
    sizes = [size for size in asked.sizes.split(",") if size]
    parts: dict[str, tuple[str, Callable[[], list[Row]]]] = {
        "cold": ("cold process", cold_rows),
        "engine": ("inference", lambda: engine_rows(sizes, asked.cases, asked.peers)),
        "bay": ("fifty technicians answer at once", bay_rows),
        "words": ("a complaint finds its finding, each synonym left out once", words_rows),
    }
    unknown = sorted(set(asked.only) - set(parts))
    if unknown:
        parser.error(f"there is no part {unknown[0]!r}; there are {', '.join(parts)}")
    out: dict[str, list[Row]] = {}
    for name in asked.only or [name for name in parts if name not in ("bay", "words")]:
        title, make = parts[name]
        sys.stdout.write(f"\n{title}\n")
        try:
            out[title] = make()
        except KeyboardInterrupt:
            sys.stderr.write(f"bench: stopped in {name}; what stands above is whole\n")
            return _written(out, asked.json, STOPPED)
        _print(out[title])
    return _written(out, asked.json, 0)


def _written(out: dict[str, list[Row]], path: Path | None, code: int) -> int:
    """Write the parts that are whole, if a file is asked for; return the exit code."""
    if path is not None:
        with whole_file(path) as part:
            part.write_text(json.dumps(out, indent=1), encoding="utf-8")
    return code


def _print(rows: list[Row]) -> None:
    """Print rows as a table, lying on its side where it has many columns."""
    if not rows:
        return
    heads = list(rows[0])
    cells = [heads, *([_text(row.get(head, "")) for head in heads] for row in rows)]
    if len(heads) > _WIDE:
        cells = [list(column) for column in zip(*cells, strict=True)]
    widths = [max(len(line[k]) for line in cells) for k in range(len(cells[0]))]
    for line in cells:
        row = "  ".join(text.rjust(width) for text, width in zip(line, widths, strict=True))
        sys.stdout.write(f"{row}\n")
    sys.stdout.flush()


def _text(value: object) -> str:
    """Return a cell: three significant digits for a float, the goal beside what is measured."""
    if isinstance(value, dict):
        return f"{_text(value['is'])} (goal {_text(value['goal'])})"
    if value is None:
        return "-"
    return f"{value:.3g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
