"""The sound town with settings, tables and layers that few have together, and every command on what comes of it."""

import shutil

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from tests.fuzz.fuzzed_town import EAST, NORTH, ROWS
from tests.fuzz.odd_files import chosen
from tests.fuzz.whole_runs import run_command, wrong_with, wrong_with_account

_ZONES = (
    "America/Santiago", "Africa/Cairo", "Asia/Beirut", "Pacific/Apia", "Pacific/Kiritimati", "Europe/Dublin", "Asia/Kolkata",
    "Africa/Monrovia", "UTC", "Etc/GMT+12", "Australia/Lord_Howe",
)  # fmt: skip
_DAYS = (
    "2026-08-{:02}", "2026-08-{:02}T00:00:00Z", "{:02}/08/2026", "{:02} Aug 26", "2026-11-01 01:{:02}", "2026-04-05 02:{:02}", "9999-12-31",
    "0001-01-01T00:00:00", "1900-01-01 10:{:02}", "2011-12-30", "2026-09-06", "2026-04-24", "2026-08-{:02} 24:00", "2028-02-29", "1969-12-31 23:59",
)  # fmt: skip
_NAMES = (
    "North; Upper", "CON", "a/b", "=x", "N" * 300, "Ä", "ä", "North", "north ", "None", "nan", "0", "1e5", "Total", "all", "(none)", "É", "É", "'",
    "a,b", "<b>", "{x}", "#1", "50%", "West", "-", "index",
)  # fmt: skip
_OWN = (
    "rowid", "draw_order", "permit", "position x_text", "x position", "index", "geometry", "lon", "x_m", "findings", "FID", "row", "lot", "status",
    "state", "core_id_text", "register", "bags", "crew_x", "level_0", "urgency", "street_matched", "opened_on", "segment", "is_open", "copy_of",
)  # fmt: skip
_SCOPES = (
    'road_authority = "Vale"',
    'road_class = "Local"',
    'surface = "Concrete"',
    'road_authority = "vale"\nsurface = "asphalt"',
)
_THRESHOLDS = (
    'code = "england"', 'code = "scotland"', 'code = "north-america"', 'rules.open-too-long.max_open = "0 day"',
    'rules.interim-too-old.max_interim = "1.5 year"', 'rules.flush-out-of-tolerance.max_step = "0 mm"', 'rules.cores-too-close.min_clear = "1 m"',
    'rules.grout-short.min_share = "100 %"', 'rules.slope-steep.max_slope = "0 %"', "rules.date-implausible.earliest = 2026-08-10",
)  # fmt: skip
_COMMANDS = (
    ("verify", "RUN/handover"), ("plan", "RUN", "--out", "OUT/plan"), ("decide", "RUN", "--out", "OUT/d.csv"), ("rules", "RUN"),
    ("return", "RUN", "--out", "OUT/r.csv"), ("sample", "RUN", "--out", "OUT/sample"), ("explain", "RUN", "--row", "3"), ("check", "FILE"),
    ("compare", "RUN", "RUN/handover", "--out", "OUT/c"), ("calibrate", "FILE", "--out", "OUT/cal"), ("rehearse", "FILE", "--faults", "3"),
)  # fmt: skip


class Wider:
    """A copy of the town with several of these at once; ``done``: which."""

    def __init__(self, town, folder, seed):
        shutil.copytree(town, folder)
        self.folder, self._rng, self.done = folder, np.random.default_rng(seed), []
        self._cores = pd.read_csv(folder / "cores.csv", dtype=str)
        self._text = (folder / "programme.toml").read_text("utf-8")
        changes = (
            self._zone, self._days, self._districts, self._own, self._thresholds, self._no_work, self._plan, self._weather, self._layers, self._twice,
            self._buying, self._sizes, self._ids, self._roads, self._few,
        )  # fmt: skip
        for at in sorted(self._rng.choice(len(changes), size=1 + int(self._rng.integers(5)), replace=False)):
            changes[at]()
            self.done.append(changes[at].__name__.strip("_"))
        self._cores.to_csv(folder / "cores.csv", index=False)
        if self._rng.random() < 0.5:
            self._text = self._text.replace(
                "outputs = []", 'outputs = ["map.html", "report.html", "handover", "basis", "days"]'
            )
        (folder / "programme.toml").write_text(self._text, encoding="utf-8")

    def _pick(self, choices):
        return chosen(self._rng, choices)

    def _set(self, old, new):
        self._text = self._text.replace(old, new, 1)

    def _zone(self):
        self._set("America/Toronto", self._pick(_ZONES))
        self._set("CA-ON", self._pick(("GB-SCT", "CL", "EG", "IN", "US", "CA-ON")))

    def _days(self):
        for name in ("cut", "done", "permit"):
            form = self._pick(_DAYS)
            some = self._rng.random(len(self._cores)) < self._pick((0.1, 1.0))
            self._cores.loc[some, name] = [form.format(1 + n % 28) for n in range(int(some.sum()))]

    def _districts(self):
        names = [self._pick(_NAMES), self._pick(_NAMES)]
        path = self.folder / "districts.gpkg"
        gpd.read_file(path).assign(district=names).to_file(path)
        if self._rng.random() < 0.5:
            self._set('districts = ["West", "East"]', "districts = []")

    def _own(self):
        free = [name for name in _OWN if name not in self._cores]
        self._cores = self._cores.rename(columns={"note": self._pick(free)}).assign(**{self._pick(_OWN) + " ": "1"})

    def _thresholds(self):
        self._text += f"\n[thresholds]\n{self._pick(_THRESHOLDS[:3])}\n"
        for _ in range(int(self._rng.integers(3))):
            self._text += f"[[thresholds.where]]\n{self._pick(_SCOPES)}\n{self._pick(_THRESHOLDS)}\n"

    def _no_work(self):
        scope = self._pick((*_SCOPES[:2], 'district = "West"', 'district = "(no district)"', 'street = "quay road"'))
        when = self._pick(
            ("from = 2026-10-01\nto = 2026-10-20", 'weekdays = ["Monday", 2026-10-06]', "to = 2026-10-09")
        )
        self._text += f"\n[[plan.no_work]]\n{scope}\n{when}\n"

    def _plan(self):
        self._set('horizon = "28 day"', self._pick((
            'horizon = "1 day"', 'horizon = "400 day"', 'horizon = "28 day"\nstart = 2026-08-03', 'horizon = "28 day"\nstart = 2027-02-01',
            'horizon = "28 day"\nwait = false', 'horizon = "60 day"\nspeed = "1 km/h"',
        )))  # fmt: skip
        place = self._pick(("[-81.275, 44.82]", "[-81.0, 45.5]", "[44.82, -81.275]"))
        self._text += f'\n[plan.yards]\n"Depot" = {place}\n'
        self._text += (
            "[costs]\nvisit = 1\ncrew_day = 900\nplate_per_day = 5\npermit_overrun_per_day = 7\npenalty = 100\n"
        )
        self._text += self._pick(("", "[budget]\ntotal = 500\n", "[budget]\nby_period = { 2026-W41 = 100 }\n"))

    def _weather(self):
        days = pd.date_range("2026-10-01", periods=30)
        table = {
            "date": self._pick(
                (days.strftime("%Y-%m-%d"), days.strftime("%Y-%m-%dT00:00:00Z"), days.strftime("%Y-%m-%d 06:00"))
            )
        }
        ends = {"low": self._rng.integers(-9, 9, 30), "high": self._rng.integers(8, 40, 30)}
        one = {"temperature": self._rng.integers(-9, 40, 30)}
        table |= self._pick(
            (ends, one, {**one, **ends}, {**ends, "hour": "07:00"}, {**one, "hour": self._rng.integers(0, 24, 30)})
        )
        pd.DataFrame(table).to_csv(self.folder / "weather.csv", index=False)
        self._text += '\n[weather]\npath = "weather.csv"\n'

    def _layers(self):
        boxes = [
            shapely.box(EAST - 9, NORTH - 9, EAST + 99, NORTH + 9),
            shapely.LineString([(EAST, NORTH), (EAST + 300, NORTH)]),
        ]
        days = [self._pick(_DAYS).format(3), self._pick(_DAYS).format(4)]
        for section, columns in (
            ("resurfaced", {"resurfaced_on": days}),
            ("protected", {"from": days, "until": days[::-1]}),
            ("joints", {}),
        ):
            if self._rng.random() < 0.6:
                gpd.GeoDataFrame({**columns, "name": ["A", "A"]}, geometry=boxes, crs=32617).to_file(
                    self.folder / f"{section}.gpkg"
                )
                self._text += f'\n[{section}]\npath = "{section}.gpkg"\n'

    def _twice(self):
        """The same file as two registers, or a second one whose ids go on."""
        start = self._text.index("[cores]")
        end = self._text.index("[roads]")
        one = self._text[start:end].replace("[cores]", '[[cores]]\nname = "one"')
        two = one.replace('"one"', '"two"').replace('"cores.csv"', '"more.csv"')
        self._text = self._text[:start] + one + two + self._text[end:]
        more = self._cores.assign(x=[str(float(x) + self._pick((0, 1))) for x in self._cores["x"]])
        more.to_csv(self.folder / "more.csv", index=False)

    def _buying(self):
        self._set('waste = "5 %"', "\n".join((
            f'waste = "{self._pick((0, 5, 45))} %"', self._pick(("half_bags = true", "")), f'lead_time = "{self._pick(("36 h", "0 day", "90 day"))}"',
            f'service_level = "{self._pick(("99.5 %", "50 %", "95 %"))}"', self._pick(("pool = true", "")),
            self._pick(('period = "month"', 'period = "all"', "")),
        )))  # fmt: skip

    def _sizes(self):
        self._cores["bags"] = [str(round(float(bags) * self._pick((1, 12)), 2)) for bags in self._cores["bags"]]
        at = self._rng.random(len(self._cores)) < 0.3
        self._cores.loc[at, "dia"] = self._pick(
            ("4.50E+02", "-1'8\"", "9" * 16, "9" * 400, "1e3", "5.55e-17", "0", "450 mm", "1/0")
        )

    def _ids(self):
        at = self._rng.random(len(self._cores)) < 0.5
        odd = (
            "A; 1",
            "#1",
            "AB-12",
            "ab 12",
            "1" * 19,
            "%",
            "\u202eA",
            "é",
            "E\u0301",
            "C1",
            "<!--",
            "=1+1",
            "01",
            "1.0",
            "x" * 500,
        )
        self._cores.loc[at, "core_id"] = [self._pick(odd) for _ in range(int(at.sum()))]

    def _roads(self):
        path = self.folder / "roads.gpkg"
        roads = gpd.read_file(path)
        roads["owner"], roads["cl"] = self._pick((("Vale", "Local"), (None, "footway"), ("; ", "MAIN")))
        roads["seg"] = [self._pick(("1", "٣", "01", "a", "７", str(n))) for n in range(len(roads))]
        roads["name"] = [self._pick(_NAMES) for _ in range(len(roads))]
        roads.to_file(path)
        self._set(
            'surface = "surface" }\n[surfaces]',
            'surface = "surface", road_authority = "owner", road_class = "cl" }\n[surfaces]',
        )

    def _few(self):
        self._cores = self._cores.head(self._pick((1, 2, ROWS)))
        for name in self._pick((["done"], ["cut"], ["bags", "crew", "done"], ["permit", "road", "acc"])):
            self._cores[name] = ""


def try_wide(town, folder, seed):
    """Audit such a town, then run a command on it; return what is wrong with either, and what was changed."""
    shutil.rmtree(folder, ignore_errors=True)
    wider = Wider(town, folder / "town", seed)
    rng = np.random.default_rng(seed)
    file, out = wider.folder / "programme.toml", folder / "out"
    outcome = run_command("audit", file, "--out", out, "--quiet")
    wrong = wrong_with(outcome)
    runs = sorted(out.glob("*/*/run.json"))
    if wrong or not runs:
        return wrong, wider.done, outcome.printed
    run = runs[0].parent
    if wrong := wrong_with_account(run, None):
        return wrong, wider.done, ""
    command = chosen(rng, _COMMANDS)
    places = {"RUN": str(run), "OUT": str(folder), "FILE": str(file)}
    arguments = [
        word.replace("RUN", places["RUN"]).replace("OUT", places["OUT"]).replace("FILE", places["FILE"])
        for word in command
    ]
    after = run_command(*arguments)
    wrong = wrong_with(after)
    if not wrong and command[0] == "verify" and (run / "handover").exists() and after.code:
        wrong = f"our own pack is refused: {after.printed[-300:]}"
    return (f"{command[0]}: {wrong}" if wrong else ""), wider.done, outcome.printed
