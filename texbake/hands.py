"""Divides the bands of a bake among processes where they can be forked, else among threads.

A band is some hundred short calls of numpy, and two threads wait for each other between them: the
vest's bands at 2048 take 1.1 s on one thread, 0.85 s on two, 0.6 s in two processes. A forked
process has all that is prepared, and writes into maps that lie in memory which both share.

Only Linux: on macOS system libraries may break in a forked process, Windows has none. And only
where no other thread runs, since a lock that it holds would stay locked in the copy for ever.
"""

import mmap
import os
import pickle
import signal
import sys
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from texbake.arrays import U8
from texbake.errors import UserError

CAN_FORK = sys.platform == "linux"
_STOPPED = 130  # what a shell gives who was interrupted
_QUEUE = 512  # entries of four bytes; a pipe holds 4096 bytes at least

Turn = Callable[[int], None]


def sheet(shape: tuple[int, ...], kind: DTypeLike) -> NDArray[Any]:
    """Return an array of 0 in memory that processes forked later share.

    Parameters
    ----------
    shape : tuple of int
        No side of 0.
    kind : dtype
    """
    if not CAN_FORK:
        return np.zeros(shape, kind)
    dtype = np.dtype(kind)
    count = int(np.prod(shape))
    memory = mmap.mmap(-1, count * dtype.itemsize)
    return np.frombuffer(memory, dtype, count).reshape(shape)


def divide(
    count: int,
    turn: Turn,
    *,
    workers: int,
    report: Callable[[float], None] = lambda _share: None,
    fork: bool = True,
) -> None:
    """Do ``turn(0)`` to ``turn(count - 1)``, in any order, some at the same time.

    Parameters
    ----------
    count : int
    turn : callable
        May write into sheets (see `sheet`), of which each turn has its own part, and nowhere else.
    workers : int
        Processes or threads, >= 1.
    report : callable
        Told the share done, in this thread.
    fork : bool
        Whether processes may be forked, if nothing is in the way. Threads do the same bytes.

    Raises
    ------
    Exception
        The first that a turn raised; turns that have not begun are left.
    MemoryError
        If the system ended a process: it does so where memory runs out.
    """
    if CAN_FORK and fork and workers > 1 and count > 1 and _alone():
        _in_processes(count, turn, min(workers, count), report)
    else:
        _in_threads(count, turn, workers, report)


def _alone() -> bool:
    """Whether this is the only thread of Python's: libraries' own need not be counted."""
    return len(sys._current_frames()) == 1  # noqa: SLF001  in sys's manual; threading knows fewer


def _in_threads(count: int, turn: Turn, workers: int, report: Callable[[float], None]) -> None:
    with ThreadPoolExecutor(workers) as pool:
        jobs = [pool.submit(turn, number) for number in range(count)]
        try:
            for done, job in enumerate(jobs, 1):
                job.result()
                report(done / count)
        finally:
            pool.shutdown(cancel_futures=True)  # who stops a bake does not wait for its rest


def _in_processes(count: int, turn: Turn, workers: int, report: Callable[[float], None]) -> None:
    queue, fill = os.pipe()
    told = [os.memfd_create("told") for _ in range(workers - 1)]
    done: U8 = sheet((count,), np.uint8)
    children: list[int] = []
    try:
        os.write(fill, np.arange(0, count, _some(count), dtype=np.uint32).tobytes())
        os.close(fill)  # who finds nothing more in the queue is at its end
        take = partial(_turns, queue, count)
        children += (_forked(turn, take, done, tell) for tell in told)
        for number in take():
            turn(number)
            done[number] = 1
            report(int(done.sum()) / count)
        for tell in told:
            _, status = os.waitpid(children.pop(0), 0)
            _complain(os.waitstatus_to_exitcode(status), tell)
    finally:
        for child in children:
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
        for file in (queue, *told):
            os.close(file)
    if not done.all():
        raise RuntimeError(f"{count - int(done.sum())} of {count} bands were left")
    report(1.0)


def _some(count: int) -> int:
    """How many turns are taken at once, so that the queue fits any pipe."""
    return -(-count // _QUEUE)


def _turns(queue: int, count: int) -> Iterator[int]:
    """Take turns until there are no more. What is read from a pipe no other process reads too."""
    while data := os.read(queue, 4):
        start = int.from_bytes(data, sys.byteorder)
        yield from range(start, min(start + _some(count), count))


def _forked(turn: Turn, take: Callable[[], Iterator[int]], done: U8, tell: int) -> int:
    """Fork a process that takes turns too; return its number."""
    parent = os.getpid()
    with warnings.catch_warnings():  # libraries of linear algebra keep threads, and mind forks
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child:
        return child
    code = 1
    try:
        for number in take():
            if os.getppid() != parent:
                break  # nobody waits for it any more
            turn(number)
            done[number] = 1
        code = 0
    except KeyboardInterrupt:
        code = _STOPPED
    except BaseException as error:  # noqa: BLE001  all of it is told
        os.write(tell, _packed(error))
    finally:
        os._exit(code)


def _packed(error: BaseException) -> bytes:
    """An error, or its words if it cannot be taken from one process to another."""
    if not isinstance(error, UserError):  # a bug: where it is must not be lost
        import traceback

        error.add_note("".join(traceback.format_tb(error.__traceback__)))
    try:
        data = pickle.dumps(error)
        pickle.loads(data)  # noqa: S301  our own
    except Exception:  # noqa: BLE001
        return pickle.dumps(RuntimeError(f"{type(error).__name__}: {error}"))
    return data


def _complain(code: int, tell: int) -> None:
    """Raise what a process told of, if it did not end well."""
    if code == 0:
        return
    os.lseek(tell, 0, os.SEEK_SET)
    data = os.read(tell, 1 << 20)
    if data:
        raise pickle.loads(data)  # noqa: S301  our own
    if code == _STOPPED:
        raise KeyboardInterrupt
    raise MemoryError(f"a process of the bake was ended by the system (code {code})")
