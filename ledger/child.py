"""A child process with limits on memory and time, where files of strangers are read.

Whatever a crafted file can do, it does there. `ask` is the asking side; the module of a child ends in `answer`,
is run as `python -m MODULE BYTES SECONDS`, and is asked and answers in JSON.
"""

import contextlib
import errno
import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ledger.errors import Refusal

try:
    import resource
except ImportError:  # Windows has none; there only the clock of the starting process holds
    resource = None  # type: ignore[assignment]  # a module elsewhere

ONE_CHILD = threading.Lock()


def ask(module: str, asked: dict[str, Any], *, memory: int, seconds: float, doing: str, instead: str) -> dict[str, Any]:
    """What the child said: `memory` in bytes of address space, `seconds` of its own and by the clock.

    Raises Refusal with the child's own sentence, or for one that was stopped with one made of `doing` and
    `instead`: 'Reading the picture took longer than ... and was stopped.' Raises OSError for a full disk.
    """
    command = [sys.executable, "-m", module, str(memory), str(seconds)]
    # a crafted file that takes the child over must find no password there
    surroundings = {name: value for name, value in os.environ.items() if not name.startswith("PRINT_LEDGER_")}
    try:
        with ONE_CHILD:  # two large pictures at once would not fit a small machine
            done = subprocess.run(
                command,
                cwd=Path(__file__).resolve().parents[1],
                env=surroundings,
                timeout=seconds,
                input=json.dumps(asked).encode(),
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                check=False,
            )
        told: dict[str, Any] = json.loads(done.stdout)
    except subprocess.TimeoutExpired:
        raise Refusal(f"{doing} took longer than {seconds} seconds and was stopped. {instead}") from None
    except ValueError:
        raise Refusal(f"{doing} asked for more time or memory than it should, and was stopped. {instead}") from None
    if "refused" in told:
        raise Refusal(told["refused"])
    if "disk" in told:
        raise OSError(told["disk"], os.strerror(told["disk"]))
    return told


TOO_LARGE = "The picture needs more memory than there is. Save a smaller copy, choose that."


def answer(act: Callable[[dict[str, Any]], dict[str, Any]], *, failed: str, too_large: str = TOO_LARGE) -> None:
    """Take the limits, do what is asked, and tell the outcome.

    `failed` is said where a decoder gives up, `too_large` where the memory does not reach.
    """
    memory, seconds = sys.argv[1:]
    _hold(int(memory), max(1, int(float(seconds))))
    json.dump(_outcome(act, json.load(sys.stdin), failed, too_large), sys.stdout)


def _hold(memory: int, seconds: int) -> None:
    if resource is None:
        return
    with contextlib.suppress(ValueError, OSError):  # some systems cannot hold the memory; the time still is
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _outcome(
    act: Callable[[dict[str, Any]], dict[str, Any]], asked: dict[str, Any], failed: str, too_large: str
) -> dict[str, Any]:
    try:
        return act(asked)
    except Refusal as refusal:
        return {"refused": refusal.message}
    except MemoryError:
        return {"refused": too_large}
    except Exception as problem:  # a decoder may fail in any way it likes over a crafted file
        if isinstance(problem, OSError) and problem.errno in (errno.ENOSPC, errno.EDQUOT):
            return {"disk": problem.errno}
        return {"refused": failed}
