"""Programs are measured as they are installed: with their byte code at hand, which an installer has compiled."""

from pathlib import Path


def with_byte_code(environment: dict[str, str], folder: Path) -> dict[str, str]:
    """The environment of a process that finds, or leaves, byte code in a folder of its own.

    A checkout in which nobody may write byte code compiles the program anew at every start, and a peer from an
    installed package does not: that would measure the checkout. The first run fills the folder and is not counted.
    """
    kept = {name: value for name, value in environment.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(folder)}
