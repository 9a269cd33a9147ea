"""Real sound servers for tests and benchmarks: PulseAudio with a null sink, JACK with its dummy driver.

Each runs in a folder of its own, so that it neither finds nor disturbs a server of the user's.
"""

import contextlib
import ctypes
import fcntl
import itertools
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from trainer.playback import drivers

_numbers = itertools.count()
_looked_for_dead_jacks = False


class ServerMissingError(Exception):
    """The server's program is not installed here; the text says which."""


class ServerFailedError(Exception):
    """The server did not start; the text is its output."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """A running PulseAudio server with one null sink at 48 kHz."""

    server: str
    process: subprocess.Popen[bytes]

    @property
    def environment(self) -> dict[str, str]:
        """The environment in which clients find it."""
        return {**os.environ, "PULSE_SERVER": self.server}

    @contextlib.contextmanager
    def recording(self, path: Path, latency_ms: int = 20) -> Iterator[None]:
        """Record the null sink's monitor to `path`: raw 32-bit floats, stereo, 48 kHz, as long as the block runs."""
        command = ["parec", "--device=null.monitor", "--format=float32le", "--rate=48000", "--channels=2", "--raw"]
        with path.open("wb") as out:
            recorder = subprocess.Popen(
                [*command, f"--latency-msec={latency_ms}"], stdout=out, stderr=subprocess.DEVNULL, env=self.environment
            )
            try:
                wait_until(lambda: path.stat().st_size > 0, "parec to record")
                yield
            finally:
                recorder.terminate()
                recorder.wait(timeout=60)


def wait_until(true, what: str, seconds: float = 60.0) -> None:
    """Wait until `true()`; fail after `seconds`."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() > end:
            raise TimeoutError(f"waited {seconds} s in vain for {what}")
        time.sleep(0.01)


def _die_with_the_tests() -> None:
    """In the server's process: ask Linux to end it when the one that started it ends, however that ends."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(1, signal.SIGTERM)  # PR_SET_PDEATHSIG, linux/prctl.h


def _stop(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(timeout=60)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(timeout=60)


@contextlib.contextmanager
def pulse_server(folder: Path) -> Iterator[Pulse]:
    """Run PulseAudio in `folder`, and point this process's PulseAudio clients at it."""
    missing = [program for program in ("pulseaudio", "pactl", "parec") if shutil.which(program) is None]
    if missing:
        raise ServerMissingError(f"{' and '.join(missing)} not installed (Debian: pulseaudio, pulseaudio-utils)")
    home = folder / "pulse"
    home.mkdir(mode=0o700)
    server = f"unix:{home / 'native'}"
    arguments = ["--daemonize=no", "--system=false", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes"]
    modules = ["module-null-sink sink_name=null rate=48000", f"module-native-protocol-unix socket={home}/native"]
    modules[1] += " auth-anonymous=1"
    private = {"HOME": str(home), "XDG_RUNTIME_DIR": str(home), "PULSE_RUNTIME_PATH": str(home)}
    said = home / "output"
    with said.open("wb") as output:
        process = subprocess.Popen(
            ["pulseaudio", "-n", *arguments, *(f"--load={module}" for module in modules)],
            stdout=output,
            stderr=output,
            env={**os.environ, **private},
            preexec_fn=_die_with_the_tests,  # noqa: PLW1509  # it takes no lock
        )
    pulse = Pulse(server, process)

    def answers() -> bool:
        if process.poll() is not None:
            raise ServerFailedError(said.read_text(errors="replace"))
        asked = subprocess.run(["pactl", "info"], env=pulse.environment, capture_output=True, check=False)
        return asked.returncode == 0

    before = os.environ.get("PULSE_SERVER")
    listener = None
    try:
        wait_until(answers, "PulseAudio to answer")
        os.environ["PULSE_SERVER"] = server
        # An idle null sink plays two seconds of silence ahead, and a new stream waits for their end; a listener with
        # little latency keeps it from that.
        listener = subprocess.Popen(
            ["parec", "--device=null.monitor", "--latency-msec=20"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=pulse.environment,
        )
        yield pulse
    finally:
        if listener is not None:
            _stop(listener)
        if before is None:
            os.environ.pop("PULSE_SERVER", None)
        else:
            os.environ["PULSE_SERVER"] = before
        _stop(process)


@contextlib.contextmanager
def jack_server(folder: Path, period: int = 256) -> Iterator[subprocess.Popen[bytes]]:
    """Run jackd with its dummy driver at 48 kHz, and point this process's JACK clients at it."""
    if shutil.which("jackd") is None:
        raise ServerMissingError("jackd not installed (Debian: jackd2)")
    name = f"twinspur-{os.getpid()}-{next(_numbers)}"
    said = folder / "jackd-output"
    before = {key: os.environ.get(key) for key in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER")}
    os.environ.update(JACK_DEFAULT_SERVER=name, JACK_NO_START_SERVER="1")
    process = None
    try:
        process = _start_jack(name, period, said)
        yield process
    finally:
        if process is not None and process.poll() is not None:
            # A killed server keeps one of the eight places that JACK has until one of its name ends properly.
            process = _start_jack(name, period, said)
        if process is not None:
            _stop(process)
        for key, value in before.items():
            if value is None:
                os.environ.pop(key, None)
            else:
                os.environ[key] = value


def _forget_dead_jacks() -> None:
    """Free the places of servers that were killed: JACK keeps eight, and gives none of them back by itself.

    Only where no jackd runs at all, whose places they might be, and before this process uses JACK: a client keeps the
    registry mapped, and would go on in the one that is gone.
    """
    global _looked_for_dead_jacks  # noqa: PLW0603 - once a process, like the mapping
    if _looked_for_dead_jacks:
        return
    _looked_for_dead_jacks = True
    if run := os.environ.get("PYTEST_XDIST_TESTRUNUID"):  # once a run: another process of it may use JACK by now
        looked = Path(tempfile.gettempdir()) / f"twinspur-jack-{os.getuid()}-{run}"
        if looked.exists():
            return
        looked.touch()
    running = [path for path in Path("/proc").glob("[0-9]*/comm") if _read(path) == "jackd"]
    if not running:
        for left in Path("/dev/shm").glob("jack*"):
            with contextlib.suppress(OSError):
                shutil.rmtree(left) if left.is_dir() else left.unlink()


def _read(path: Path) -> str:
    try:
        return path.read_text().strip()
    except OSError:
        return ""


def _start_jack(name: str, period: int, said: Path) -> subprocess.Popen[bytes]:
    """A running jackd; with real-time priority where the system allows it. One test process starts one at a time."""
    with (Path(tempfile.gettempdir()) / f"twinspur-jack-{os.getuid()}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        _forget_dead_jacks()
        return _started_jack(name, period, said)


def _started_jack(name: str, period: int, said: Path) -> subprocess.Popen[bytes]:
    driver = ["-d", "dummy", "-r", "48000", "-p", str(period)]
    for priority in (["-R", "-P", "70"], ["-r"]):
        with said.open("wb") as output:
            command = ["jackd", "-n", name, *priority, *driver]
            process = subprocess.Popen(
                command,
                stdout=output,
                stderr=output,
                preexec_fn=_die_with_the_tests,  # noqa: PLW1509  # it takes no lock
            )
        if _jack_answers(process):
            return process
    raise ServerFailedError(said.read_text(errors="replace"))


def _jack_answers(process: subprocess.Popen[bytes]) -> bool:
    end = time.monotonic() + 60
    while time.monotonic() < end and process.poll() is None:
        if drivers.jack_server() is not None:
            return True
        time.sleep(0.1)
    if process.poll() is None:
        _stop(process)
    return False
