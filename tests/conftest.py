"""What holds for every test."""

import signal


def pytest_configure() -> None:
    """A shell starts its background jobs with SIGINT ignored; the tests of Ctrl-C would then wait for ever."""
    if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
