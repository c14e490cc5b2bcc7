"""``python -m simkit.build.warm``: prepare the tools, so that the first build does not have to wait for it."""

from __future__ import annotations

import subprocess
import sys

from .faults import ToolFault
from .tools import is_warm, warm_up


def in_background() -> bool:
    """Prepare the tools in a process of its own, if they are not prepared; True if one was started.

    A build that begins meanwhile waits for it.
    """
    if is_warm():
        return False
    subprocess.Popen(
        [sys.executable, "-m", __name__],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    return True


def main() -> int:
    """Prepare the tools; exit code 1 if that is not possible."""
    try:
        warm_up()
    except ToolFault as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
