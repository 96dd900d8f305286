"""The demo after five days of work: its register as it was changed by hand, and in another order."""

import csv
import datetime as dt
import shutil
from pathlib import Path

from pipeline.results import RunResult
from pipeline.run import run_programme

_DATA = Path(__file__).parents[1] / "sample_data"
DAY = dt.date(2026, 10, 5)


def audit_later(demo: RunResult, folder: Path) -> tuple[Path, RunResult, dict[str, list[str]]]:
    """Audit the changed register beside a copy of the demo's run.

    Returns
    -------
    tuple
        The folder of the run before, the run after, and the core ids by what was done to them.
    """
    shutil.copytree(_DATA, folder / "town")
    out = Path(shutil.copytree(demo.folder.parents[1], folder / "out"))
    changed = _change(folder / "town" / "cores.csv")
    after = run_programme(folder / "town" / "programme.toml", out, DAY)
    return out / demo.folder.relative_to(demo.folder.parents[1]), after, changed


def _change(register: Path) -> dict[str, list[str]]:
    """Change the register by five days of work; return the ids by what was done."""
    with register.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    at = {name: place for place, name in enumerate(head)}
    ids = [row[at["id"]].replace(" ", "").casefold() for row in rows]
    plain = [
        row
        for row, core in zip(rows, ids, strict=True)
        if len(row) == len(head) and row[at["lat"]].startswith("44.") and row[at["lon"]].startswith("-82.")
        and ids.count(core) == 1
    ]  # fmt: skip
    still_open = [row for row in plain if not row[at["done"]]]
    done = [row for row in plain if row[at["done"]].startswith("2026-")]
    plated = [row for row in still_open[60:] if row[at["plated"]] and row[at["permit_to"]]]
    bare = [row for row in still_open[60:] if not row[at["plated"]] and not row[at["interim"]]]
    changed = {
        "closed": still_open[:25], "moved": still_open[30:36], "position lost": still_open[40:43], "removed": still_open[50:57],
        "reopened": done[:4], "size changed": done[10:13], "permit changed": plated[:1], "state changed": bare[:1],
    }  # fmt: skip
    for row in changed["closed"]:
        row[at["done"]] = "2026-10-02 09:00"
    for row in changed["moved"]:
        row[at["lat"]] = f"{float(row[at['lat']]) + 0.0004:.7f}"
    for row in changed["position lost"]:
        row[at["lon"]] = row[at["lat"]] = ""
    for row in changed["reopened"]:
        row[at["done"]] = ""
    for row in changed["size changed"]:
        row[at["dia"]] = "300 mm"
    for row in changed["permit changed"]:
        row[at["permit_to"]] = "24/12/2026"
    for row in changed["state changed"]:
        row[at["plated"]] = "30/09/2026"
    changed["opened"] = [list(row) for row in done[20:22]]
    for place, row in enumerate(changed["opened"]):
        row[at["id"]] = f"NEW-{place}"
        row[at["lat"]] = f"{float(row[at['lat']]) + 0.0001:.7f}"
    gone = {id(row) for row in changed["removed"]}
    # the register of another month is in another order
    kept = [row for row in rows if id(row) not in gone][::-1] + changed["opened"]
    with register.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *kept])
    return {what: sorted(row[at["id"]].strip() for row in group) for what, group in changed.items()}
