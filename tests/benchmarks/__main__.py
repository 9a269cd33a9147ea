"""Run benchmarks: all of them, or those named. `python -m tests.benchmarks [NAME …]`."""

import subprocess
import sys
from pathlib import Path

NOT_BENCHMARKS = ("__init__", "__main__", "listening_bounds", "made", "sound_measures")


def main() -> int:
    """Run each as a process of its own; 1 where one fails to run."""
    known = sorted(path.stem for path in Path(__file__).parent.glob("*.py") if path.stem not in NOT_BENCHMARKS)
    names = sys.argv[1:] or known
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"No benchmark is called {', '.join(unknown)}. There are: {', '.join(known)}.")
        return 2
    failed = []
    for name in names:
        print(f"\n== {name}", flush=True)
        if subprocess.run([sys.executable, "-m", f"tests.benchmarks.{name}"], check=False).returncode:
            failed.append(name)
    if failed:
        print(f"\nCould not be run to the end: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
