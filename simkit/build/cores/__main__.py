"""``python -m simkit.build.cores FILE``: keep a core's reading beside its file, for places where no tool runs."""

from __future__ import annotations

import sys

from .read import CoreFault, keep_reading


def main(words: list[str]) -> int:
    """Exit code 1 if the core cannot be brought in, 2 for a wrong call."""
    if len(words) != 1:
        print("usage: python -m simkit.build.cores FILE", file=sys.stderr)
        return 2
    try:
        print(keep_reading(words[0]))
    except CoreFault as fault:
        print(fault, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
