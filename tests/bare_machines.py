"""Run the README's two commands on bare Debian machines: `python -m tests.bare_machines [--first] [SUITE …]`, as root.

Each machine is a folder that debootstrap fills with the base system of one Debian release, and nothing else: the
commands must install the rest themselves. The folder has the host's kernel, network settings, certificates and package
settings, but none of its programs. A machine that cannot be made here is skipped with the reason, and so is all of it
without root or debootstrap. What the commands print is shown; the exit code is 1 where one of them failed.
"""

import argparse
import contextlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

ROOT = Path(__file__).parents[1]
SUITES = {"bookworm": "Debian 12, Python 3.11", "trixie": "Debian 13, Python 3.13"}
COPIED = (
    "/etc/resolv.conf",
    "/etc/hosts",
    "/etc/ssl/certs/ca-certificates.crt",
    "/etc/apt/apt.conf.d",
    "/etc/pip.conf",
)
"""What the host has so that its network and package settings hold inside too, where it has them."""
OWN_PIP = re.compile(r"PIP_(CERT|DEFAULT_TIMEOUT|INDEX_URL|DISABLE_PIP_VERSION_CHECK)|SSL_CERT_FILE|\w+_proxy", re.I)


class CannotMakeError(Exception):
    """A bare machine cannot be made here; the text says why."""


def commands(readme: str) -> list[str]:
    """The README's commands: its `sh` blocks."""
    return re.findall(r"^```sh\n(.*?)^```$", readme, re.S | re.M)


@contextlib.contextmanager
def machine(suite: str, folder: Path) -> Iterator[Path]:
    """A bare Debian in `folder`, with the kernel's file systems mounted; everything is unmounted afterwards."""
    root = folder / suite
    words = ["debootstrap", "--variant=minbase", "--include=ca-certificates,git", suite, str(root)]
    made = subprocess.run(words, capture_output=True, text=True, check=False)
    if made.returncode:
        raise CannotMakeError(f"debootstrap could not make {suite}: {(made.stdout + made.stderr)[-300:].strip()}")
    with contextlib.ExitStack() as mounted:
        for kind, where in (("proc", "proc"), ("devpts", "dev/pts"), ("tmpfs", "dev/shm")):
            words = ["mount", "-t", kind, kind, str(root / where)]
            if subprocess.run(words, capture_output=True, check=False).returncode:
                raise CannotMakeError(f"{where} cannot be mounted in {root}")
            mounted.callback(subprocess.run, ["umount", "--lazy", str(root / where)], check=False)
        for each in map(Path, COPIED):
            to = root / each.relative_to("/")
            if each.is_dir():
                shutil.copytree(each, to, dirs_exist_ok=True)
            elif each.is_file():
                to.parent.mkdir(parents=True, exist_ok=True)
                to.write_bytes(each.read_bytes())
        yield root


def run_inside(root: Path, command: str) -> int:
    """Run a shell command in the clone inside a machine; returns its exit code."""
    kept = {key: value for key, value in os.environ.items() if OWN_PIP.fullmatch(key)}
    usual = {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin", "HOME": "/root", "LANG": "C.UTF-8"}
    script = f"cd /root/twinspur && set -e\n{command}"
    words = ["chroot", str(root), "bash", "-c", script]
    environment = kept | usual | {"DEBIAN_FRONTEND": "noninteractive"}
    return subprocess.run(words, env=environment, stdin=subprocess.DEVNULL, check=False).returncode


def try_suite(suite: str, folder: Path, wanted: Sequence[str]) -> bool:
    """Clone the checkout into a bare machine and run commands there; whether all of them ended well."""
    with machine(suite, folder) as root:
        subprocess.run(["git", "clone", "--quiet", str(ROOT), str(root / "root/twinspur")], check=True)
        for number, command in enumerate(wanted, 1):
            print(f"--- {SUITES.get(suite, suite)}: command {number} of {len(wanted)}", flush=True)
            code = run_inside(root, command)
            if code:
                print(f"--- {suite}: command {number} ended with {code}", flush=True)
                return False
    return True


def main(words: Sequence[str] | None = None) -> int:
    """Try every suite that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("suites", nargs="*", default=list(SUITES), help=f"Debian releases ({', '.join(SUITES)})")
    parser.add_argument("--first", action="store_true", help="run the first command only: install and play")
    asked = parser.parse_args(words)
    if os.geteuid() != 0 or shutil.which("debootstrap") is None:
        print("Skipped: this needs root and debootstrap (Debian: debootstrap).")
        return 0
    wanted = commands((ROOT / "README.md").read_text("utf-8"))[: 1 if asked.first else 2]
    failed = []
    for suite in asked.suites:
        with tempfile.TemporaryDirectory(prefix="bare-", ignore_cleanup_errors=True) as folder:
            try:
                if not try_suite(suite, Path(folder), wanted):
                    failed.append(suite)
            except CannotMakeError as reason:
                print(f"Skipped {suite}: {reason}")
    print(f"Failed: {', '.join(failed)}" if failed else "All that could be tried went well.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
