"""Bands divided among processes or threads: every one once, and what goes wrong is told."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from texbake.errors import UserError
from texbake.hands import CAN_FORK, divide, sheet

COUNT = 40
ROOT = Path(__file__).resolve().parents[2]

# pytest's own workers have threads, so what needs processes runs in one without.
SCRIPT = """
import os, signal, threading, time
import numpy as np
from texbake.errors import UserError
from texbake.hands import divide, sheet
assert threading.active_count() == 1
parent = os.getpid()
hands = sheet(({count},), np.int32)
hands[:] = 0
turns = sheet(({count},), np.int32)
turns[:] = 0

def turn(number):
    time.sleep(0.002)
    hands[number] = os.getpid()
    turns[number] += 1

def helped():
    return os.getpid() != parent

def no_child_left():
    try:
        os.waitpid(-1, os.WNOHANG)
    except ChildProcessError:
        return True
    return False
"""
needs_fork = pytest.mark.skipif(not CAN_FORK, reason="processes are forked on Linux only")


def _run(body: str) -> subprocess.CompletedProcess[str]:
    words = SCRIPT.format(count=COUNT) + body
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", words],
        check=False,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )


@needs_fork
@pytest.mark.parametrize("workers", [2, 3])
def test_processes_take_every_turn_once(workers: int) -> None:
    done = _run(f"""
told = []
divide({COUNT}, turn, workers={workers}, report=told.append)
assert (turns == 1).all(), turns
print(len(set(hands.tolist())), told == sorted(told), told[-1], no_child_left())
""")
    assert done.stdout.split() == [str(workers), "True", "1.0", "True"], done.stderr


@needs_fork
def test_more_turns_than_a_pipe_holds_are_taken_once_too() -> None:
    done = _run("""
many = sheet((5003,), np.uint8)
many[:] = 0
def count(number):
    many[number] += 1
divide(5003, count, workers=2)
print((many == 1).all())
""")
    assert done.stdout.split() == ["True"], done.stderr


@needs_fork
def test_a_mistake_in_another_process_comes_back_as_it_was() -> None:
    done = _run("""
def wrong(number):
    turn(number)
    if helped():
        raise UserError("no cloth", fix="take some", line=3)
try:
    divide(200, lambda n: wrong(n % 40), workers=2)
except UserError as error:
    print(error.what, error.fix, error.line, no_child_left(), sep="|")
""")
    assert done.stdout.strip() == "no cloth|take some|3|True", done.stderr


@needs_fork
def test_a_mistake_that_cannot_travel_is_told_in_words() -> None:
    done = _run("""
class Odd(Exception):
    def __init__(self):
        super().__init__("odd")
        self.lock = threading.Lock()
def wrong(number):
    turn(number % 40)
    if helped():
        raise Odd
try:
    divide(200, wrong, workers=2)
except RuntimeError as error:
    print(error)
""")
    assert done.stdout.strip() == "Odd: odd", done.stderr


@needs_fork
def test_a_mistake_here_ends_the_other_processes() -> None:
    done = _run("""
def wrong(number):
    turn(number % 40)
    if not helped():
        raise UserError("here", fix="mend it")
try:
    divide(100000, wrong, workers=3)
except UserError as error:
    print(error.what, no_child_left())
""")
    assert done.stdout.split() == ["here", "True"], done.stderr


@needs_fork
def test_a_process_that_the_system_ended_is_told() -> None:
    done = _run("""
def ended(number):
    turn(number % 40)
    if helped():
        os.kill(os.getpid(), signal.SIGKILL)
try:
    divide(200, ended, workers=2)
except MemoryError as error:
    print(error, no_child_left(), sep="|")
""")
    assert done.stdout.strip() == "a process of the bake was ended by the system|True"


@needs_fork
def test_a_process_that_ended_otherwise_is_told_as_what_it_is() -> None:
    done = _run("""
from texbake.errors import MachineError
def ended(number):
    turn(number % 40)
    if helped():
        os.kill(os.getpid(), signal.SIGTERM)
try:
    divide(200, ended, workers=2)
except MachineError as error:
    print(error.what, no_child_left(), sep="|")
""")
    assert done.stdout.strip() == "a process of the bake ended with code -15|True", done.stderr


@needs_fork
def test_after_a_mistake_in_another_process_few_turns_are_done() -> None:
    done = _run("""
def wrong(number):
    if helped():
        raise UserError("no cloth", fix="take some")
    turn(number % 40)
    time.sleep(0.02)
try:
    divide(40, wrong, workers=2)
except UserError:
    print(int(turns.sum()))
""")
    assert int(done.stdout) < 20, done.stderr


@needs_fork
def test_where_no_process_can_be_forked_this_one_does_all() -> None:
    done = _run("""
def refused():
    raise BlockingIOError(11, "no more processes")
os.fork = refused
before = len(os.listdir("/proc/self/fd"))
for _ in range(5):
    divide(40, turn, workers=3)
print((turns == 5).all(), set(hands.tolist()) == {parent})
print(len(os.listdir("/proc/self/fd")) == before)
""")
    assert done.stdout.split() == ["True", "True", "True"], done.stderr


@needs_fork
def test_it_works_where_the_caller_ignores_its_children() -> None:
    done = _run("""
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
divide(40, turn, workers=2)
print((turns == 1).all())
def wrong(number):
    if helped():
        raise UserError("no cloth", fix="take some")
    turn(number)
try:
    divide(40, wrong, workers=2)
except UserError as error:
    print(error.what)
""")
    assert done.stdout.splitlines() == ["True", "no cloth"], done.stderr


@needs_fork
def test_no_room_for_a_sheet_is_no_memory() -> None:
    done = _run("""
import resource
resource.setrlimit(resource.RLIMIT_AS, (1 << 32, 1 << 32))
try:
    sheet((1 << 33,), np.uint8)
except MemoryError as error:
    print(error)
""")
    assert done.stdout.startswith("no memory for"), done.stderr


@needs_fork
def test_an_interrupt_stops_all() -> None:
    done = _run("""
def stopped(number):
    turn(number % 40)
    if not helped() and number > 10:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(1)
try:
    divide(100000, stopped, workers=2)
except KeyboardInterrupt:
    print("stopped", no_child_left())
""")
    assert done.stdout.split() == ["stopped", "True"], done.stderr


@needs_fork
def test_nothing_is_forked_while_another_thread_runs() -> None:
    done = _run("""
go = threading.Event()
other = threading.Thread(target=go.wait)
other.start()
divide(40, turn, workers=2)
go.set()
print((turns == 1).all(), set(hands.tolist()) == {parent})
""")
    assert done.stdout.split() == ["True", "True"], done.stderr


@pytest.mark.parametrize("workers", [1, 3])
def test_threads_take_every_turn_once(workers: int) -> None:
    seen: list[int] = []
    told: list[float] = []
    divide(COUNT, seen.append, workers=workers, report=told.append, fork=False)
    assert sorted(seen) == list(range(COUNT))
    assert told == [(n + 1) / COUNT for n in range(COUNT)]


def test_a_mistake_in_a_thread_is_raised_and_leaves_the_rest() -> None:
    begun: list[int] = []

    def wrong(number: int) -> None:
        begun.append(number)
        raise UserError("no cloth", fix="take some")

    with pytest.raises(UserError, match="no cloth"):
        divide(1000, wrong, workers=2, fork=False)
    assert len(begun) < 1000


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.float32])
def test_a_sheet_is_an_array_like_any_other(kind: type) -> None:
    made = sheet((3, 5, 2), kind)
    made[...] = 7
    assert made.shape == (3, 5, 2)
    assert made.dtype == kind
    assert made.flags.c_contiguous
    assert made.flags.writeable
    assert (made == 7).all()
