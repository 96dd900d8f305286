"""Replace a folder again and again, each time stopped or failing one step later, and print what is found after each.

Run as a script, so that it has no thread but its own and can fork. A step is whatever Python does with files, before it
does it (its audit events); the process is killed there, or the step fails as on a full or a failing disk.
"""

import errno
import json
import os
import shutil
import signal
import sys
import tempfile
from pathlib import Path

from pipeline.errors import OutputError
from pipeline.publish import exchange
from pipeline.publish.folder import new_folder
from pipeline.publish.held import held

OLD = {"a.csv": "old", "gone.csv": "old", "pack/a.csv": "old", "mine.txt": "mine", "pack/mine.txt": "mine"}
NEW = {"a.csv": "new", "pack/a.csv": "new", "pack/b.csv": "new", "mine.txt": "mine", "pack/mine.txt": "mine"}
_WRITTEN = {"a.csv", "gone.csv", "pack/a.csv"}
_STEPS = ("open", "os.", "shutil.", "ctypes.dlsym", "fcntl.")
_MOST = 400
_NOT_REACHED = 9


def content(folder: Path) -> dict[str, str]:
    """Return the files of a folder with their text."""
    return {file.relative_to(folder).as_posix(): file.read_text() for file in folder.rglob("*") if file.is_file()}


def lay(folder: Path, files: dict[str, str]) -> None:
    """Write files into a folder."""
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)


def replace(target: Path) -> None:
    """Replace the folder, as a command does."""
    with held(target), new_folder(target, lambda *_: False, written=lambda _: _WRITTEN) as draft:
        lay(draft, {name: text for name, text in NEW.items() if text == "new"})


def _child(target: Path, step: int, how: str) -> int:
    seen = 0

    def watch(event: str, _: tuple[object, ...]) -> None:
        nonlocal seen
        if event.startswith(_STEPS):
            seen += 1
            if seen == step and how == "killed":
                os.kill(os.getpid(), signal.SIGKILL)
            elif seen == step:
                raise OSError(getattr(errno, how), os.strerror(getattr(errno, how)))

    sys.addaudithook(watch)
    try:
        replace(target)
    except OutputError:
        return 4
    return 0 if seen >= step else _NOT_REACHED


def _one(how: str, step: int, *, is_first: bool) -> dict[str, object]:
    parent = Path(tempfile.mkdtemp())
    target = parent / "run"
    if not is_first:
        lay(target, OLD)
    sys.stdout.flush()
    if not (child := os.fork()):
        try:
            code = _child(target, step, how)
        except BaseException as error:  # noqa: BLE001 - told by its code
            os.write(2, f"{how} {step}: {error!r}\n".encode())
            code = 70
        os._exit(code)
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    at_once = content(target) if target.exists() else None
    with held(target):
        pass
    started_again = content(target) if target.exists() else None
    left = sorted(entry.name for entry in parent.iterdir() if entry.name != "run")
    replace(target)
    found = {
        "step": step,
        "code": ended,
        "at_once": at_once,
        "again": started_again,
        "left": left,
        "then": content(target),
    }
    shutil.rmtree(parent)
    return found


def main() -> None:
    """Print as JSON what is found after each step; arguments: killed or an error's name, exchange or rename, first or not."""
    how, way, which = sys.argv[1:]
    if way == "rename":
        exchange._exchange = lambda *_: False
    found = []
    for step in range(1, _MOST):
        found.append(_one(how, step, is_first=which == "first"))
        if found[-1]["code"] == _NOT_REACHED:
            break
    print(json.dumps(found))


if __name__ == "__main__":
    main()
