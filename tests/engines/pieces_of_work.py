"""Work that the workers of a cluster do in the tests: what is sent is its name."""

import os
import shutil
import signal
import time
from pathlib import Path

from pipeline.errors import SettingsError


def process_and_square(number, _):
    time.sleep(0.1)
    return os.getpid(), number**2


def wrong_at_three(number, _):
    if number == 3:
        raise SettingsError("piece 3 is wrong")
    return number


def divided(number, _):
    return 1 / number


def killed_once(thing, _):
    number, marker = thing
    time.sleep(0.05)
    if number == 2 and not Path(marker).exists():
        Path(marker).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def killed_always(number, _):
    os.kill(os.getpid(), signal.SIGKILL)
    return number


def slow(thing, _):
    number, marker = thing
    time.sleep(0.3)
    if number == 2:
        Path(marker).touch()
    return number


def stopped_once(thing, _):
    number, marker = thing
    if number == 2 and not Path(marker).exists():
        Path(marker).touch()
        os.kill(os.getpid(), signal.SIGSTOP)
    return number


def megabytes(count, _):
    return b"0" * (count * 1_000_000)


def without_folder(thing, _):
    number, folder = thing
    if number == 1:
        shutil.rmtree(folder)
    return number
