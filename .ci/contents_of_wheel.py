"""Compare what a wheel and a source archive hold with the repository: python3 .ci/contents_of_wheel.py WHEEL SDIST."""

import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

_ROOT = Path(__file__).resolve().parents[1]
_BILL = ".ci/kerfbook.cdx.json"


def main(wheel: str, sdist: str) -> int:
    listed = subprocess.run(["git", "ls-files"], check=True, capture_output=True, text=True, cwd=_ROOT)
    tracked = listed.stdout.splitlines()
    data = {f"pipeline/_data/{name}": name for name in tracked if name.startswith(("config/", "sample_data/"))}
    code = {name: name for name in tracked if name.startswith("pipeline/")}
    with zipfile.ZipFile(wheel) as archive:
        inside = {name: archive.read(name) for name in archive.namelist()}
    info = next(name.split("/")[0] for name in inside if name.endswith(".dist-info/METADATA"))
    bill = {f"{info}/sboms/{Path(_BILL).name}": _BILL}
    own = {f"{info}/{name}" for name in ("METADATA", "WHEEL", "RECORD", "entry_points.txt")}
    faults = _compared(inside, {**code, **data, **bill}, own)
    with tarfile.open(sdist) as archive:
        inside = {
            one.name.partition("/")[2]: archive.extractfile(one).read() for one in archive.getmembers() if one.isfile()
        }
    sources = [*code, *data.values(), "README.md", "DEVELOPERS.md", _BILL, "pyproject.toml", ".gitignore"]
    faults += _compared(inside, {name: name for name in sources}, {"PKG-INFO"})
    print("\n".join(faults) or f"{Path(wheel).name} and {Path(sdist).name} hold what the repository holds, and no more")
    return int(bool(faults))


def _compared(inside: dict[str, bytes], expected: dict[str, str], own: set[str]) -> list[str]:
    missing = [f"missing: {name}" for name in sorted((expected.keys() | own) - inside.keys())]
    surplus = [f"not expected: {name}" for name in sorted(inside.keys() - expected.keys() - own)]
    other = [
        f"not as in the repository: {name}"
        for name, source in sorted(expected.items())
        if name in inside and inside[name] != (_ROOT / source).read_bytes()
    ]
    return missing + surplus + other


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
