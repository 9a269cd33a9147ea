"""Where the program starts: with no words it opens the trainer, with words it carries out a command."""

import sys

TYPE_CHECKING = False  # typing's own, without waiting for typing: help must cost nothing
if TYPE_CHECKING:
    from collections.abc import Sequence


def main(argv: "Sequence[str] | None" = None) -> int:
    """Run Twinspur; returns the exit code."""
    words = sys.argv[1:] if argv is None else argv
    if not words:
        import gc

        gc.disable()  # until all is shown: there is nothing to free, and looking for it takes a tenth of the start
        from trainer.screens.application import run

        return run()
    if words[0] in ("--help", "-h", "help"):
        from trainer.commands.table import usage

        sys.stdout.write(usage())
        return 0
    from trainer.commands.line import main as command

    return command(words)


if __name__ == "__main__":
    sys.exit(main())
