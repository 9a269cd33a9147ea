"""Real sound servers for tests and benchmarks: PulseAudio with a null sink, JACK with its dummy driver.

Each runs in a folder of its own, so that it neither finds nor disturbs a server of the user's.
"""

import contextlib
import ctypes
import fcntl
import functools
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
    process.send_signal(signal.SIGCONT)  # a test may have put it to sleep
    process.terminate()
    try:
        process.wait(timeout=10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(timeout=60)


PIPEWIRE_INSTEAD = "TWINSPUR_TESTS_ON_PIPEWIRE"
"""The environment variable that makes `pulse_server` run PipeWire, with its own server of PulseAudio's protocol."""


def pulse_server(folder: Path) -> contextlib.AbstractContextManager[Pulse]:
    """Run PulseAudio in `folder`, or PipeWire in its place, and point this process's clients at it."""
    return _pipewire(folder) if os.environ.get(PIPEWIRE_INSTEAD) else _pulseaudio(folder)


@contextlib.contextmanager
def _pulseaudio(folder: Path) -> Iterator[Pulse]:
    _need("pulseaudio", "pactl", "parec", packages="pulseaudio, pulseaudio-utils")
    home = folder / "pulse"
    home.mkdir(mode=0o700)
    server = f"unix:{home / 'native'}"
    arguments = ["--daemonize=no", "--system=false", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes"]
    modules = ["module-null-sink sink_name=null rate=48000", f"module-native-protocol-unix socket={home}/native"]
    modules[1] += " auth-anonymous=1"
    private = {"HOME": str(home), "XDG_RUNTIME_DIR": str(home), "PULSE_RUNTIME_PATH": str(home)}
    command = ["pulseaudio", "-n", *arguments, *(f"--load={module}" for module in modules)]
    with _running(command, home / "output", private) as process, _pointed_at(PULSE_SERVER=server):
        _wait_for_pulse(Pulse(server, process), home / "output")
        # An idle null sink plays two seconds of silence ahead, and a new stream waits for their end; a listener with
        # little latency keeps it from that.
        with _kept_awake(Pulse(server, process)):
            yield Pulse(server, process)


@contextlib.contextmanager
def _pipewire(folder: Path) -> Iterator[Pulse]:
    """PipeWire, its session manager and its PulseAudio server, with one null sink; `process` is PipeWire itself."""
    programs = ("pipewire", "wireplumber", "pipewire-pulse", "dbus-daemon", "pactl", "parec")
    _need(*programs, packages="pipewire, wireplumber, pipewire-pulse, dbus, pulseaudio-utils")
    home = folder / "pipewire"
    home.mkdir(mode=0o700)
    bus = f"unix:path={home / 'bus'}"
    places = (
        "XDG_RUNTIME_DIR",
        "PIPEWIRE_RUNTIME_DIR",
        "XDG_CONFIG_HOME",
        "XDG_STATE_HOME",
        "PULSE_RUNTIME_PATH",
        "HOME",
    )
    private = {name: str(home) for name in places} | {"DBUS_SESSION_BUS_ADDRESS": bus, "DISABLE_RTKIT": "1"}
    with contextlib.ExitStack() as stack:
        run = functools.partial(_running, environment=private)
        stack.enter_context(run(["dbus-daemon", "--session", "--nofork", f"--address={bus}"], home / "bus-output"))
        process = stack.enter_context(run(["pipewire"], home / "output"))
        wait_until((home / "pipewire-0").is_socket, "PipeWire's socket")
        stack.enter_context(run(["wireplumber"], home / "manager-output"))
        stack.enter_context(run(["pipewire-pulse"], home / "pulse-output"))
        wait_until(lambda: any(home.rglob("native")), "PipeWire's PulseAudio socket")
        server = f"unix:{next(home.rglob('native'))}"
        stack.enter_context(_pointed_at(PULSE_SERVER=server, PIPEWIRE_RUNTIME_DIR=str(home)))
        pulse = Pulse(server, process)
        _wait_for_pulse(pulse, home / "output")
        null = ["load-module", "module-null-sink", "sink_name=null", "rate=48000", "media.class=Audio/Sink"]
        subprocess.run(["pactl", *null], env=pulse.environment, capture_output=True, check=True)
        subprocess.run(["pactl", "set-default-sink", "null"], env=pulse.environment, check=True)
        stack.enter_context(_kept_awake(pulse))
        yield pulse


def _need(*programs: str, packages: str) -> None:
    missing = [program for program in programs if shutil.which(program) is None]
    if missing:
        raise ServerMissingError(f"{' and '.join(missing)} not installed (Debian: {packages})")


@contextlib.contextmanager
def _running(command: list[str], output: Path, environment: dict[str, str]) -> Iterator["subprocess.Popen[bytes]"]:
    """A program that runs as long as the block, and never longer than the tests."""
    with output.open("wb") as out:
        process = subprocess.Popen(
            command,
            stdout=out,
            stderr=out,
            env={**os.environ, **environment},
            preexec_fn=_die_with_the_tests,  # noqa: PLW1509  # it takes no lock
        )
    try:
        yield process
    finally:
        _stop(process)


@contextlib.contextmanager
def _pointed_at(**variables: str) -> Iterator[None]:
    """These variables in this process's environment as long as the block runs."""
    before = {name: os.environ.get(name) for name in variables}
    os.environ.update(variables)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _wait_for_pulse(pulse: Pulse, said: Path) -> None:
    def answers() -> bool:
        if pulse.process.poll() is not None:
            raise ServerFailedError(said.read_text(errors="replace"))
        asked = subprocess.run(["pactl", "info"], env=pulse.environment, capture_output=True, check=False)
        return asked.returncode == 0

    wait_until(answers, "the sound server to answer")


@contextlib.contextmanager
def _kept_awake(pulse: Pulse) -> Iterator[None]:
    """A listener with little latency at the null sink."""
    listener = subprocess.Popen(
        ["parec", "--device=null.monitor", "--latency-msec=20"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=pulse.environment,
    )
    try:
        yield
    finally:
        _stop(listener)


@contextlib.contextmanager
def jack_server(folder: Path, period: int = 256) -> Iterator[subprocess.Popen[bytes]]:
    """Run jackd with its dummy driver at 48 kHz, and point this process's JACK clients at it."""
    if shutil.which("jackd") is None:
        raise ServerMissingError("jackd not installed (Debian: jackd2)")
    name = f"twinspur-{os.getpid()}-{next(_numbers)}"
    said = folder / "jackd-output"
    process = None
    with _pointed_at(JACK_DEFAULT_SERVER=name, JACK_NO_START_SERVER="1"):
        try:
            process = _start_jack(name, period, said)
            yield process
        finally:
            if process is not None and process.poll() is not None:
                # A killed server keeps one of the eight places that JACK has until one of its name ends properly.
                process = _start_jack(name, period, said)
            if process is not None:
                _stop(process)


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
