"""What holds for every test."""

import os
import signal

import pytest


def pytest_configure() -> None:
    """Signals and bytecode as they are for a user who types the command."""
    # The tests start hundreds of processes; where the environment forbids to keep bytecode, each compiles the kit anew.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    # A shell starts its background jobs with SIGINT ignored; the tests of Ctrl-C would then wait for ever.
    if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes longest in one piece comes first: at the end it would keep one worker while the others have nothing to do."""
    items.sort(key=lambda item: item.path.name != "test_static_checks.py")
