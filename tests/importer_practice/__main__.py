"""Run as ``python -m tests.importer_practice PRACTICE_CASES.json FOLDER``."""

import sys

from tests.importer_practice.convert import main

if __name__ == "__main__":
    sys.stdout.write(f"{main(sys.argv[1:])} cases written\n")
