"""Start Drypark: `python3 drypark.py demo`, `test`, `serve`, or any command of `drypark`.

The one idea: nobody installs anything by hand. This file needs only a bare
Python 3.11 or newer. It makes the project's own environment from the hashed
lock when the environment's stamp differs, then hands over to the command
inside. A stamp is the SHA-256 of what the environment was made from; it is
written last, so a set-up that was interrupted has none and is done again.

    python3 drypark.py demo            an invented case, worked through
    python3 drypark.py test [--fast]   format, lint, types, layers, knowledge, tests
    python3 drypark.py bench           how long the answers take
    python3 drypark.py serve           the pages for the bay
    python3 drypark.py COMMAND ...     any command of drypark; --help lists them

DRYPARK_VENV names another folder for the environment (default: .venv beside this file).
"""

import contextlib
import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from subprocess import PIPE, STDOUT
from typing import IO, Any

if sys.version_info < (3, 11):  # noqa: UP036 - this very file must say so in plain words
    sys.exit(
        "drypark: this is Python %d.%d, Drypark needs 3.11 or newer; install one from your "  # noqa: UP031 - an old Python must be able to read it
        "system's packages and start this file with it, e.g. python3.11 drypark.py demo"
        % sys.version_info[:2]
    )

TOP = Path(__file__).resolve().parent
WINDOWS = os.name == "nt"
#: What a set-up needs on disk, in megabytes, with room for what is unpacked on the way.
ROOM_MB = {"run": 1100, "test": 1700}
STEPS = 4
OTHERS = ("PYTHONHOME", "PYTHONPATH", "PYTHONDONTWRITEBYTECODE")  # variables of other Pythons
DEMO_CASE = TOP / "fixtures" / "cases" / "kerb-strike-van.json"
DEMO_HEADING = f"""Drypark demo. The van, the shop and every reading in this case are invented.
Case file: {DEMO_CASE.relative_to(TOP).as_posix()}
"""
WARM_UP = "import sys; from api.warming import warm; warm(sys.argv[1])"
#: Words in an installer's output, any of them -> the sentence that says what to do about it.
TROUBLES = {
    "ensurepip|no module named venv|no module named pip": "this Python comes without the part that "
    "makes environments; on Debian or Ubuntu run 'apt install python3-venv' as root, elsewhere "
    "install a complete Python, and start again",
    "permission denied|read-only file system|access is denied": "this user may not write to "
    "{venv}; name a folder of your own in DRYPARK_VENV",
    "no space left|not enough space|errno 28|os error 28": "the disk is full; free about {room} MB "
    "for {venv} and start again",
    "do not match the hashes|hash mismatch": "a package that arrived is not the one {lock} names, "
    "so it was not used; start again, and if it stays so tell whoever looks after the lock",
    "name resolution|newconnectionerror|failed to establish|unreachable|dns error|timed out|"
    "error sending request|connection refused|proxyerror|getaddrinfo failed|max retries|"
    "failed to fetch|from versions: none": "the packages could not be fetched, no connection "
    "to the package index; connect this machine once (behind a proxy set HTTPS_PROXY), start again",
    "no matching distribution|no solution found|no wheels|no usable wheels": "there is no "
    "ready-made package for Python {python} on {platform}; 64-bit Linux, macOS and Windows with "
    "Python 3.11 to 3.14 have them all",
}


class SetupError(Exception):
    """The environment can't be made; the message says why and what to do."""


def main(arguments: list[str]) -> int:
    """Make the environment if it is needed, then hand over; return the exit code."""
    if not arguments:
        sys.stdout.write(str(__doc__))
        return 0
    wants = "test" if arguments[0] in ("test", "bench") else "run"
    try:
        venv = environment_folder()
        ensure(venv, wants)
        command = command_line(venv, arguments)
    except SetupError as error:
        sys.stderr.write(f"drypark: {error}\n")
        return 4
    except KeyboardInterrupt:
        sys.stderr.write("\ndrypark: interrupted; the next start does the set-up again\n")
        return 130
    sys.stdout.flush()
    if not WINDOWS:
        os.execve(command[0], command, inner_environment(venv))
    return subprocess.call(command, env=inner_environment(venv))


def command_line(venv: Path, arguments: list[str]) -> list[str]:
    """Return the full command that the given arguments stand for."""
    python, rest = str(python_in(venv)), arguments[1:]
    module = {"test": "tests.gate", "bench": "tests.bench"}.get(arguments[0])
    if module:
        os.chdir(TOP)
        return [python, "-m", module, *rest]
    if arguments[0] == "demo":
        out = sys.stderr if "--json" in rest else sys.stdout
        out.write(f"{DEMO_HEADING}\n")
        arguments = ["triage", str(DEMO_CASE), *rest]
    return [python, str(launcher_in(venv)), *arguments]


def environment_folder() -> Path:
    """Return the folder of the environment, absolute."""
    return Path(os.environ.get("DRYPARK_VENV") or TOP / ".venv").expanduser().absolute()


def scripts_in(venv: Path) -> Path:
    """Return the folder of the environment's programs."""
    return venv / ("Scripts" if WINDOWS else "bin")


def python_in(venv: Path) -> Path:
    """Return the environment's interpreter."""
    return scripts_in(venv) / ("python.exe" if WINDOWS else "python")


def launcher_in(venv: Path) -> Path:
    """Return the script that starts the `drypark` command."""
    return scripts_in(venv) / ("drypark-script.py" if WINDOWS else "drypark")


def site_packages_in(venv: Path) -> Path:
    """Return the folder that the environment's packages are in."""
    library = "Lib" if WINDOWS else "lib/python{}.{}".format(*sys.version_info[:2])
    return venv / library / "site-packages"


def inner_environment(venv: Path) -> dict[str, str]:
    """Return the variables for a program inside: ours alone, kernels cached beside it."""
    kept = {k: v for k, v in os.environ.items() if k not in OTHERS}
    kept.setdefault("NUMBA_CACHE_DIR", str(venv / "kernels"))
    return {**kept, "VIRTUAL_ENV": str(venv), "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_USER": "0"}


def lock_file(wants: str) -> Path:
    """Return the lock that holds everything `run` or `test` needs."""
    return TOP / "lock" / f"{wants}.txt"


def project_table() -> dict[str, Any]:
    """Return the `[project]` table: what the environment depends on besides the lock."""
    import tomllib  # here, so that an older Python gets as far as the sentence above

    return dict(tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"])


def lock_stamp(wants: str, venv: Path) -> str:
    """Return the SHA-256 of lock, project table, Python version and place."""
    parts = [
        lock_file(wants).read_text(encoding="utf-8"),
        json.dumps(project_table(), sort_keys=True),
        "{}.{} {}".format(*sys.version_info[:2], sys.platform),
        f"{TOP} {venv}",
    ]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def kernel_stamp() -> str:
    """Return the SHA-256 of names, times and sizes of the arithmetic's source files."""
    seen = sorted((TOP / "triage").rglob("*.py"))
    lines = [f"{p.relative_to(TOP)} {p.stat().st_mtime_ns} {p.stat().st_size}" for p in seen]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def written_stamps(venv: Path) -> dict[str, str]:
    """Return the stamps the environment carries; none if it was never finished."""
    try:
        found = json.loads((venv / "stamps.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) and python_in(venv).exists() else {}


def write_stamps(venv: Path, stamps: dict[str, str]) -> None:
    """Write the stamps in one step, so that no reader sees half of them."""
    fresh = venv / "stamps.new"
    fresh.write_text(json.dumps(stamps, indent=1), encoding="utf-8")
    os.replace(fresh, venv / "stamps.json")


def missing(venv: Path, wants: str) -> list[str]:
    """Return what is not ready: some of `base` (start anew), `wants` and `kernel`."""
    stamps = written_stamps(venv)
    if stamps.get("run") != lock_stamp("run", venv):
        return ["base", wants, "kernel"]
    out = [] if stamps.get(wants) == lock_stamp(wants, venv) else [wants]
    return out if stamps.get("kernel") == kernel_stamp() else [*out, "kernel"]


def ensure(venv: Path, wants: str) -> None:
    """Bring the environment up to date; do nothing, in milliseconds, if it is."""
    if not missing(venv, wants):
        return
    try:
        with sole_setup(venv):
            todo = missing(venv, wants)  # again: whoever held the lock may have made it
            if todo:
                make(venv, wants, todo)
    except OSError as error:
        raise SetupError(explained(str(error), venv, wants)) from error


def make(venv: Path, wants: str, todo: list[str]) -> None:
    """Do the steps named in `todo`, saying each, and write the stamps last."""
    started = time.monotonic()
    stamps = {} if "base" in todo else written_stamps(venv)
    (venv / "stamps.json").unlink(missing_ok=True)
    if "base" in todo:
        say(1, f"environment in {venv}")
        check_room(venv, wants)
        make_empty(venv)
    if wants in todo:
        say(2, f"{count_packages(wants)} packages from lock/{wants}.txt, each checked by its hash")
        install(venv, wants)
        stamps |= {"run": lock_stamp("run", venv), wants: lock_stamp(wants, venv)}
    if "base" in todo:
        say(3, "the drypark command")
        link_project(venv)
    say(4, "compiling the arithmetic, so that the first answer comes at once")
    write_stamps(venv, {**stamps, "kernel": kernel_stamp() if warm_up(venv) else "none"})
    sys.stderr.write(f"drypark: ready after {time.monotonic() - started:.0f} s\n\n")


def make_empty(venv: Path) -> None:
    """Make an empty environment, never over a folder that is not ours."""
    ours = venv / "made-by-drypark"
    if venv.exists() and any(venv.iterdir()) and not ours.exists():
        raise SetupError(
            f"the folder {venv} is there and was not made by drypark.py; move it away or name "
            "another one in DRYPARK_VENV"
        )
    shutil.rmtree(venv, ignore_errors=True)
    venv.mkdir(parents=True, exist_ok=True)
    ours.write_text("This folder is made and removed by drypark.py.\n", encoding="utf-8")
    without_pip = ["--without-pip"] if shutil.which("uv") else []
    done = captured([sys.executable, "-m", "venv", *without_pip, str(venv)], venv)
    if done.returncode:
        raise SetupError(explained(done.stdout + done.stderr, venv, "run"))


def install(venv: Path, wants: str) -> None:
    """Install the lock, every file checked by its hash; by uv where it is, else by pip."""
    lock, python = str(lock_file(wants)), str(python_in(venv))
    options = ["--require-hashes", "--only-binary", ":all:", "-r", lock]
    if shutil.which("uv"):
        done = captured(["uv", "pip", "install", "--quiet", "--python", python, *options], venv)
        if not done.returncode:
            return
        sys.stderr.write("         uv did not finish; trying pip\n")
        captured([sys.executable, "-m", "venv", str(venv)], venv)
    pip = [python, "-m", "pip", "install", "--no-compile", "--no-input", "--retries", "2", *options]
    code, output = counted(pip, venv, (count_packages(wants), "Collecting ", "fetched"))
    if code:
        raise SetupError(explained(output, venv, wants))


def link_project(venv: Path) -> None:
    """Put the project itself into the environment: its path, its name, its command."""
    project = project_table()
    name, version, site = project["name"], project["version"], site_packages_in(venv)
    module, function = project["scripts"][name].split(":")
    about = site / f"{name}-{version}.dist-info"
    about.mkdir(exist_ok=True)
    written = {
        site / f"{name}.pth": f"{TOP}\n",
        about / "METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        about / "entry_points.txt": f"[console_scripts]\n{name} = {module}:{function}\n",
        launcher_in(venv): (
            f"#!{python_in(venv)}\n"
            f"import os, sys\nsys.path.insert(0, {str(TOP)!r})\n"
            f"os.environ.setdefault('NUMBA_CACHE_DIR', {str(venv / 'kernels')!r})\n"
            f"try:\n    from {module} import {function}\n    sys.exit({function}())\n"
            "except KeyboardInterrupt:\n    sys.exit(130)\n"  # before any command has begun
        ),
    }
    if WINDOWS:
        starter = '@"%~dp0python.exe" "%~dp0drypark-script.py" %*\n'
        written[scripts_in(venv) / f"{name}.cmd"] = starter
    for path, text in written.items():
        path.write_text(text, "utf-8")
    launcher_in(venv).chmod(0o755)
    (about / "RECORD").write_text("".join(f"{p},,\n" for p in written), encoding="utf-8")


def warm_up(venv: Path) -> bool:
    """Compile the kernels into the on-disk cache, from nothing: numba misses changed callees.

    A failure stops nobody: the command itself shows it, and the gate must be able to run.
    """
    shutil.rmtree(venv / "kernels", ignore_errors=True)
    total = sum(p.read_text("utf-8").count("\n@njit") for p in (TOP / "triage").rglob("*.py"))
    command = [str(python_in(venv)), "-c", WARM_UP, str(DEMO_CASE)]
    code, output = counted(command, venv, (total, "compiled ", "compiled"))
    if code:
        last = (output.strip() or "no word why").splitlines()[-1]
        sys.stderr.write(f"drypark: not compiled beforehand ({last}); the first answer is late\n")
    return not code


def say(step: int, what: str) -> None:
    """Print one set-up step, counted."""
    sys.stderr.write(f"drypark: set-up {step} of {STEPS}: {what}\n")


def count_packages(wants: str) -> int:
    """Return how many packages the lock names (a few are for other systems only)."""
    return sum(line[:1].isalnum() for line in lock_file(wants).read_text("utf-8").splitlines())


def check_room(venv: Path, wants: str) -> None:
    """Refuse to begin on a disk that would be full half way."""
    place = next(p for p in (venv, *venv.parents) if p.exists())
    free = shutil.disk_usage(place).free // 1_000_000
    if free < ROOM_MB[wants]:
        raise SetupError(
            f"{free} MB are free at {place}, the environment needs {ROOM_MB[wants]}; free some, "
            "or name a folder on another disk in DRYPARK_VENV"
        )


def captured(command: list[str], venv: Path) -> subprocess.CompletedProcess[str]:
    """Run a command and keep what it says."""
    return subprocess.run(
        command, capture_output=True, text=True, errors="replace", env=inner_environment(venv)
    )


def counted(command: list[str], venv: Path, what: tuple[int, str, str]) -> tuple[int, str]:
    """Run a command, counting lines that begin so; return its exit code and its last words."""
    said: list[str] = []
    number, live, (total, mark, done) = 0, sys.stderr.isatty(), what
    inside = inner_environment(venv)
    with subprocess.Popen(
        command, stdout=PIPE, stderr=STDOUT, text=True, errors="replace", env=inside
    ) as running:
        for line in running.stdout or ():
            said = [*said[-200:], line]
            number += line.startswith(mark)
            unpacking = line.startswith("Installing collected")
            if unpacking or (line.startswith(mark) and (live or number % 25 == 0)):
                text = f"         {number} of {total} {done}{', unpacking' if unpacking else ''}"
                sys.stderr.write(f"\r{text}" if live else f"{text}\n")
                sys.stderr.flush()
    if live:
        sys.stderr.write("\n")
    return running.returncode, "".join(said)


def explained(output: str, venv: Path, wants: str) -> str:
    """Return one sentence for what went wrong, from the words of the one that failed."""
    low = output.lower()
    facts = {"room": ROOM_MB[wants], "venv": venv, "lock": f"lock/{wants}.txt"}
    facts |= {"python": "{}.{}".format(*sys.version_info[:2]), "platform": sys.platform}
    for words, sentence in TROUBLES.items():
        if any(word in low for word in words.split("|")):
            return sentence.format(**facts)
    last = (output.strip() or "it said nothing").splitlines()[-1]
    return f"the environment in {venv} could not be made: {last}"


@contextlib.contextmanager
def sole_setup(venv: Path) -> Iterator[None]:
    """Hold the set-up for this process alone; the system lets go of it if the process dies."""
    venv.parent.mkdir(parents=True, exist_ok=True)
    with venv.with_name(f"{venv.name}.lock").open("a+", encoding="utf-8") as file:
        if not try_lock(file):
            sys.stderr.write("drypark: another start is doing the set-up; waiting for it\n")
            while not try_lock(file):
                time.sleep(0.2)
        yield


def try_lock(file: IO[str]) -> bool:
    """Return whether the file could be locked just now."""
    if sys.platform == "win32":
        import msvcrt

        with contextlib.suppress(PermissionError):
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            return True
    else:
        import fcntl

        with contextlib.suppress(BlockingIOError):
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
    return False


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
