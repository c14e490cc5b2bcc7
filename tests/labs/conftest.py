"""A lab's file keeps to one worker: its tests share the replay of the whole lab."""

import re

import pytest


def pytest_collection_modifyitems(items):
    for item in items:
        if re.match(r"test_\d\d_", item.path.name):
            item.add_marker(pytest.mark.xdist_group(item.path.stem))
