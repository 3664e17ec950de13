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

from tests.bench.bay import bay_rows
from tests.bench.cold import cold_rows
from tests.bench.engine import catalogue_rows, engine_rows

Row = dict[str, object]


def main(arguments: Sequence[str]) -> int:
    """Run the benchmarks asked for and print their tables."""
    parser = argparse.ArgumentParser(prog="drypark.py bench", description=__doc__)
    parser.add_argument("only", nargs="*", help="cold, networks, knowledge, bay; none: all but bay")
    parser.add_argument("--sizes", default="S,M,L", help="made-up networks: S,M,L,XL")
    parser.add_argument("--cases", type=int, default=20, help="cases for each network")
    parser.add_argument("--json", type=Path, help="write all rows there as well")
    asked = parser.parse_args(arguments)
    sizes = [size for size in asked.sizes.split(",") if size]
    parts: dict[str, tuple[str, Callable[[], list[Row]]]] = {
        "cold": ("cold process", cold_rows),
        "networks": ("inference on made-up networks", lambda: engine_rows(sizes, asked.cases)),
        "knowledge": ("inference on the shipped knowledge", catalogue_rows),
        "bay": ("fifty technicians answer at once", bay_rows),
    }
    unknown = sorted(set(asked.only) - set(parts))
    if unknown:
        parser.error(f"there is no part {unknown[0]!r}; there are {', '.join(parts)}")
    out: dict[str, list[Row]] = {}
    for name in asked.only or [name for name in parts if name != "bay"]:
        title, make = parts[name]
        sys.stdout.write(f"\n{title}\n")
        out[title] = make()
        _print(out[title])
    if asked.json:
        asked.json.write_text(json.dumps(out, indent=1), encoding="utf-8")
    return 0


def _print(rows: list[Row]) -> None:
    """Print rows as a table, columns as wide as their widest cell."""
    if not rows:
        return
    heads = list(rows[0])
    cells = [[_text(row.get(head, "")) for head in heads] for row in rows]
    widths = [max(len(r[k]) for r in [heads, *cells]) for k in range(len(heads))]
    for line in [heads, *cells]:
        row = "  ".join(text.rjust(width) for text, width in zip(line, widths, strict=True))
        sys.stdout.write(f"{row}\n")
    sys.stdout.flush()


def _text(value: object) -> str:
    """Return a cell: three significant digits for a float."""
    return f"{value:.3g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
