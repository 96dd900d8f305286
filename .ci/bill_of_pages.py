"""Complete a bill of materials with what pages hold: python3 .ci/bill_of_pages.py BILL OUT.

An index does not know that Leaflet is inside one of its packages, nor that parts of a library end up in files
A package index does not know that Leaflet is in one of its packages, nor that parts of a library end up in files
file, read by hand.
"""

import json
import sys
from pathlib import Path

_KIND = "kerfbook:copied-into"
_LEAFLET = {
    "bom-ref": "leaflet==1.9.4",
    "type": "library",
    "name": "leaflet",
    "version": "1.9.4",
    "purl": "pkg:npm/leaflet@1.9.4",
    "description": "Script and style sheet of the map, from django-js-lib-leaflet.",
    "licenses": [{"license": {"acknowledgement": "concluded", "id": "BSD-2-Clause"}}],
    "properties": [{"name": _KIND, "value": "map.html"}],
}
# by package: what its licence file says
_READ = {
    "contourpy": "BSD-3-Clause",
    "cssselect2": "BSD-3-Clause",
    "cycler": "BSD-3-Clause",
    "django-js-lib-leaflet": "BSD-2-Clause",
    "flexcache": "BSD-3-Clause",
    "gpxpy": "Apache-2.0",
    "Jinja2": "BSD-3-Clause",
    "kiwisolver": "BSD-3-Clause",
    "partd": "BSD-3-Clause",
    "patsy": "BSD-2-Clause AND PSF-2.0",
    "Pint": "BSD-3-Clause",
    "pydyf": "BSD-3-Clause",
    "pyphen": "GPL-2.0-or-later OR LGPL-2.1-or-later OR MPL-1.1",
    "python-dateutil": "Apache-2.0 OR BSD-3-Clause",
    "scipy": "BSD-3-Clause",
    "segno": "BSD-3-Clause",
    "sortedcontainers": "Apache-2.0",
    "tinycss2": "BSD-3-Clause",
    "weasyprint": "BSD-3-Clause",
    "webencodings": "BSD-3-Clause",
    "zict": "BSD-3-Clause",
}
# what parts of a package end up in: folium writes the frame of the map
_COPIED = {"folium": "map.html"}


def main(bill_path: Path, out: Path) -> None:
    bill = json.loads(bill_path.read_text("utf-8"))
    for component in bill["components"]:
        component["licenses"] = [_licence(component)]
        # links to forums and donations are not materials, and change between releases
        component.pop("externalReferences", None)
        if pages := _COPIED.get(component["name"]):
            component["properties"] = [*component.get("properties", []), {"name": _KIND, "value": pages}]
    carrier = next(one for one in bill["components"] if one["name"] == "django-js-lib-leaflet")
    carrier["components"] = [_LEAFLET]
    for tool in bill["metadata"]["tools"]["components"]:
        tool.pop("externalReferences", None)
    out.write_text(json.dumps(bill, indent=1, sort_keys=True) + "\n", "utf-8")


def _licence(component: dict) -> dict:
    """Return one licence by its SPDX name, declared by the package or read by hand."""
    if read := _READ.get(component["name"]):
        return {"expression": read, "acknowledgement": "concluded"}
    known = [one for one in component.get("licenses", []) if "expression" in one or "id" in one["license"]]
    if len(known) != 1:
        found = json.dumps(component.get("licenses"))
        sys.exit(
            f"{component['name']}: found the licences {found}, expected one by its SPDX name. Read its licence "
            f"file, and add what it says to _READ in {Path(__file__).name}."
        )
    return known[0]


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
