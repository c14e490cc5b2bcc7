"""What holds for every test."""

import os
import signal


def pytest_configure() -> None:
    """Signals and bytecode as they are for a user who types the command."""
    # The tests start hundreds of processes; where the environment forbids to keep bytecode, each compiles the kit anew.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    # A shell starts its background jobs with SIGINT ignored; the tests of Ctrl-C would then wait for ever.
    if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
