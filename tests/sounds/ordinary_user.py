"""Permissions as an ordinary user meets them, where the tests run as root too."""

import os
from collections.abc import Iterator
from contextlib import contextmanager

NOBODY = 65534


@contextmanager
def ordinary_user() -> Iterator[None]:
    """Inside, root is nobody, and everybody else is who they are."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)
