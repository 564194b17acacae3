"""Divides the bands of a bake among processes where they can be forked, else among threads.

A band is some thousand short calls of numpy, and two threads wait for each other between them: the
vest at 2048 takes 0.81 s on one thread, 0.74 s on two, 0.47 s in two processes. A forked process
has all that is prepared, and writes into maps that lie in memory which both share.

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
from typing import Any, NoReturn

import numpy as np
from numpy.typing import DTypeLike, NDArray

from texbake.arrays import U8
from texbake.errors import MachineError, UserError

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

    Raises
    ------
    MemoryError
        If there is no room.
    """
    if not CAN_FORK:
        return np.zeros(shape, kind)
    dtype = np.dtype(kind)
    count = int(np.prod(shape))
    try:
        memory = mmap.mmap(-1, count * dtype.itemsize)
    except OSError as error:
        raise MemoryError(f"no memory for {shape} of {dtype}") from error
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
        If the system killed a process: it does so where memory runs out.
    MachineError
        If a process ended in any other way that it should not.
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
    crew = _Crew(count, turn)
    try:
        with suppress(OSError):  # no more processes, files or memory: fewer hands do it too
            for _ in range(workers - 1):
                crew.fork()
        for number in crew.turns():
            crew.take(number)
            report(int(crew.done.sum()) / count)
        crew.join()
    finally:
        crew.dismiss()
    if not crew.done.all():
        raise RuntimeError(f"{count - int(crew.done.sum())} of {count} bands were left")
    report(1.0)


class _Crew:
    """Takes turns from one queue, in the process at hand and those that it forks.

    The queue is a pipe: what one process reads from it, no other reads too. Each child tells of an
    error in a file of its own.
    """

    def __init__(self, count: int, turn: Turn) -> None:
        self.count, self.turn = count, turn
        self.some = -(-count // _QUEUE)  # turns that are taken at once, so that any pipe holds all
        self.done: U8 = sheet((count,), np.uint8)
        self.children: list[tuple[int, int]] = []  # number of each, and where it tells
        self.queue, fill = os.pipe()
        try:
            os.write(fill, np.arange(0, count, self.some, dtype=np.uint32).tobytes())
        finally:
            os.close(fill)  # who finds nothing more in the queue is at its end

    def turns(self) -> Iterator[int]:
        """Take turns until there are no more."""
        while data := os.read(self.queue, 4):
            start = int.from_bytes(data, sys.byteorder)
            yield from range(start, min(start + self.some, self.count))

    def take(self, number: int) -> None:
        """Do one turn."""
        self.turn(number)
        self.done[number] = 1

    def fork(self) -> None:
        """Fork a process that takes turns too.

        No signal comes between: it must not unwind the caller in the copy, nor lose the number.
        """
        tell, parent = os.memfd_create("told"), os.getpid()
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
        try:
            with warnings.catch_warnings():  # libraries of linear algebra keep threads: they mind
                warnings.simplefilter("ignore", DeprecationWarning)
                child = os.fork()
            if not child:
                self._serve(tell, parent, before)
            self.children.append((child, tell))
        except OSError:
            os.close(tell)
            raise
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)

    def _serve(self, tell: int, parent: int, signals: set[int | signal.Signals]) -> NoReturn:
        """Take turns in a forked process, and end it."""
        code = 1
        try:
            signal.pthread_sigmask(signal.SIG_SETMASK, signals)
            for number in self.turns():
                if os.getppid() != parent:
                    break  # nobody waits for it any more
                self.take(number)
            code = 0
        except KeyboardInterrupt:
            code = _STOPPED
        except BaseException as error:  # noqa: BLE001  all of it is told
            while os.read(self.queue, 4096):
                pass  # turns that have not begun are left
            os.write(tell, _packed(error))
        finally:
            os._exit(code)

    def join(self) -> None:
        """Wait for all, and raise what the first tells that did not end well."""
        while self.children:
            child, tell = self.children[0]
            code = _ended(child)
            data = os.pread(tell, 1 << 20, 0)
            self.children.pop(0)
            os.close(tell)
            if data:
                raise pickle.loads(data)  # noqa: S301  our own
            _complain(code)

    def dismiss(self) -> None:
        """End those that are left, and close what is open."""
        for child, tell in self.children:
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
            _ended(child)
            os.close(tell)
        os.close(self.queue)


def _ended(child: int) -> int:
    """Wait for a process; 0 where the system keeps no codes, as who ignores SIGCHLD wants it."""
    try:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    except ChildProcessError:
        return 0


def _complain(code: int) -> None:
    """Raise what the end of a process means that told nothing."""
    if code == _STOPPED:
        raise KeyboardInterrupt
    if code == -signal.SIGKILL:  # as the system does where memory runs out
        raise MemoryError("a process of the bake was ended by the system")
    if code:
        fix = "bake again; with --threads 1 it needs no other process"
        raise MachineError(f"a process of the bake ended with code {code}", fix=fix)


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
