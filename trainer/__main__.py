"""Where the program starts: with no words it opens the trainer, with words it carries out a command."""

import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run Twinspur; returns the exit code."""
    words = sys.argv[1:] if argv is None else argv
    if words:
        from trainer.commands.line import main as command

        return command(words)
    from trainer.screens.application import run

    return run()


if __name__ == "__main__":
    sys.exit(main())
