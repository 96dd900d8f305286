"""Audit the demo's two months with a Kerfbook that is installed elsewhere, and compare them with the committed example.

    python3 .ci/demo_bytes.py PYTHON [FLAG...]      for example: python3 .ci/demo_bytes.py venv/bin/python -OO

The inputs are those of the installed copy. Files that are missing, new or of other bytes are named, and end this
with 3, an audit that fails with 1; what two runs of the same inputs may differ in (timings, versions) is left out.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

_EXAMPLE = Path(__file__).resolve().parents[1] / "outputs" / "harbour-vale-2026"
_MONTHS = ("sample_data/august/programme.toml", "sample_data/programme.toml")
_FIND = "from pipeline.programme.resources import shipped; print(shipped('sample_data'))"


def main(interpreter: str, flags: list[str]) -> int:
    # not resolved: the interpreter of an environment is a link, and its place is how it finds its packages
    python = [os.path.abspath(interpreter), *flags]
    with tempfile.TemporaryDirectory(prefix="kerfbook-demo-") as folder:
        inputs = subprocess.run([*python, "-P", "-c", _FIND], check=True, capture_output=True, text=True, cwd=folder)
        shutil.copytree(inputs.stdout.strip(), Path(folder, "sample_data"))
        for programme in _MONTHS:
            command = [*python, "-m", "pipeline", "audit", "--quiet", programme]
            if code := subprocess.run(command, cwd=folder, check=False).returncode:
                print(f"{programme}: the audit ended with {code}")
                return 1
        made = Path(folder, "outputs", _EXAMPLE.name)
        differing = [
            name for name in sorted(_files(made) | _files(_EXAMPLE)) if not _same(made / name, _EXAMPLE / name)
        ]
    for name in differing:
        print(f"not as in outputs/{_EXAMPLE.name}: {name}")
    print(f"{len(differing)} of {len(_files(_EXAMPLE))} files differ from the committed example")
    return 3 if differing else 0


def _files(folder: Path) -> set[Path]:
    """Return the files of the months in a folder; the README's pictures beside them are not made by an audit."""
    return {file.relative_to(folder) for file in folder.rglob("*") if file.is_file() and file.parent != folder}


def _same(made: Path, committed: Path) -> bool:
    if not (made.is_file() and committed.is_file()):
        return False
    if made.name == "run.json":
        one, other = (json.loads(file.read_text("utf-8")) for file in (made, committed))
        return all(
            one.get(key) == other.get(key) for key in one.keys() | other.keys() if key not in {"stages", "versions"}
        )
    return made.read_bytes() == committed.read_bytes()


if __name__ == "__main__":
    if len(sys.argv) == 1:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1], sys.argv[2:]))
