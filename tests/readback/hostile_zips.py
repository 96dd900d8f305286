"""Zips that no sender of a pack makes: what someone could want is to fill a disk, to write elsewhere, or to show a
reader other files than those that were checked."""

import struct
import warnings
import zipfile

_FILE, _FOLDER = 0o100644, 0o040755
# what the directory and the head of a file begin with, and where each has the flags
_HEADS = ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6))


def written(path, entries, method=zipfile.ZIP_DEFLATED):
    """Write a zip of names, bytes and modes, in their order."""
    with warnings.catch_warnings(), zipfile.ZipFile(path, "w") as pack:
        warnings.simplefilter("ignore")
        for name, data, mode, *extra in entries:
            entry = zipfile.ZipInfo("x")
            # the library would mend some names
            entry.filename, entry.orig_filename = name, name
            entry.compress_type, entry.external_attr, entry.create_system = method, mode << 16, 3
            entry.extra = extra[0] if extra else b""
            pack.writestr(entry, data)


def _with(*more):
    return lambda path, own: written(path, [*own, *more])


def _mode(mode, name="rules.csv"):
    return lambda path, own: written(path, [(n, d, mode if n.endswith(name) else m) for n, d, m in own])


def _method(method):
    return lambda path, own: written(path, own, method)


def _renamed(change):
    return lambda path, own: written(path, [(change(n), d, m) for n, d, m in own])


def _bytes(change):
    def spoil(path, own):
        written(path, own)
        path.write_bytes(change(bytearray(path.read_bytes())))

    return spoil


def _damaged(method):
    def spoil(path, own):
        written(path, own, method)
        data = bytearray(path.read_bytes())
        for at in range(100, 400):
            data[at] ^= 0x5A
        path.write_bytes(data)

    return spoil


def _encrypted(data):
    for mark, flags in _HEADS:
        at = data.find(mark)
        while at >= 0:
            data[at + flags] |= 1
            at = data.find(mark, at + 4)
    return data


def _commented(data):
    data[-2:] = struct.pack("<H", 5)
    return data + b"hello"


def _all_at_the_first(data):
    """Let every entry of the directory lead to the bytes of the first file."""
    at = data.find(_HEADS[0][0])
    while at >= 0:
        data[at + 42 : at + 46] = struct.pack("<L", 0)
        at = data.find(_HEADS[0][0], at + 4)
    return data


def _less_than_it_holds(data):
    """Let the directory state one byte for the last file, which holds more."""
    at = data.rfind(_HEADS[0][0])
    data[at + 24 : at + 28] = struct.pack("<L", 1)
    return data


def _other_name(name):
    """The further field that gives an entry another name for some programs."""
    named = b"\x01\0\0\0\0" + name.encode()
    return struct.pack("<HH", 0x7075, len(named)) + named


_ZEROS = bytes(1 << 20)


def _bomb(name, megabytes):
    def spoil(path, own):
        written(path, own)
        with (
            zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED, compresslevel=1) as pack,
            pack.open(f"pack/{name}", "w", force_zip64=True) as file,
        ):
            for _ in range(megabytes):
                file.write(_ZEROS)

    return spoil


# by name: how it is made of the entries of a pack, and what is said of it
ZIPS = {
    "setuid": (_mode(0o104755), "would run with another user's rights"),
    "setgid": (_mode(0o102755), "would run with another user's rights"),
    "link": (_mode(0o120777), "a link or device"),
    "pipe": (_mode(0o010644), "a link or device"),
    "device": (_mode(0o020666), "a link or device"),
    "all absolute": (_renamed(lambda name: f"/{name}"), "expected one folder of files"),
    "all absolute on a share": (_renamed(lambda name: f"//{name.split('/')[1]}"), "expected one folder of files"),
    "one absolute": (_with(("/etc/passwd", b"x", _FILE)), "expected one folder of files"),
    "a file above": (_with(("../rules.csv", b"x", _FILE)), "expected one folder of files"),
    "all above": (_renamed(lambda name: f"../{name.split('/')[1]}"), "expected one folder of files"),
    "a folder above": (_with(("../../../etc/", b"", _FOLDER)), "expected one folder of files"),
    "a folder above, from within": (_with(("pack/../../etc/", b"", _FOLDER)), "expected one folder of files"),
    "a folder within": (_with(("pack/more/", b"", _FOLDER)), "expected one folder of files"),
    "a folder with bytes": (_with(("pack/", b"x" * 99, _FOLDER)), "a folder that holds bytes"),
    "a folder with another user's rights": (_with(("pack/", b"", 0o044755)), "would run with another user's rights"),
    "backslashes": (_with(("pack\\..\\..\\x.csv", b"x", _FILE)), "expected one folder of files"),
    "a drive": (_renamed(lambda name: name.replace("pack", "C:")), "expected one folder of files"),
    "a folder named as an option": (_renamed(lambda name: name.replace("pack", "-rf")), "expected one folder of files"),
    "a folder that colours": (_renamed(lambda name: name.replace("pack", "\x1b[31m")), "expected one folder of files"),
    "a folder that turns": (_renamed(lambda name: name.replace("pack", "\u202epack")), "expected one folder of files"),
    "a file that colours": (_with(("pack/\x1b[31m.csv", b"x", _FILE)), "expected one folder of files"),
    "a name that ends early": (_with(("pack/z.csv\0.exe", b"x", _FILE)), "has another name besides"),
    "a second name": (_with(("pack/z.csv", b"x", _FILE, _other_name("pack/map.html"))), "has another name besides"),
    "a further field cut short": (_with(("pack/z.csv", b"x", _FILE, b"up\xff\x00a")), ""),
    "the same name twice": (_with(("pack/rules.csv", b"x", _FILE)), "two files have the same name"),
    "the same name in capitals": (_with(("pack/RULES.csv", b"x", _FILE)), "two files have the same name"),
    "two folders": (_with(("other/rules.csv", b"x", _FILE)), "expected one folder of files"),
    "no folder": (_renamed(lambda name: name.split("/")[1]), "expected one folder of files"),
    "one file alone": (lambda path, _: written(path, [("map.html", b"x", _FILE)]), "expected one folder of files"),
    "one file, absolute": (lambda path, _: written(path, [("/map.html", b"x", _FILE)]), "expected one folder of files"),
    "nothing": (lambda path, _: written(path, []), "expected one folder of files"),
    "many files": (_with(*[(f"pack/{n}.csv", b"", _FILE) for n in range(101)]), "more than any pack has"),
    "many folders": (_with(*[(f"pack/{n}/", b"", _FOLDER) for n in range(20_001)]), "more than any pack has"),
    "bytes before": (_bytes(lambda data: b"MZ" + bytes(500) + data), "bytes that belong to no file"),
    "bytes after": (_bytes(lambda data: data + b"#!/bin/sh\n"), "bytes after its end"),
    "a comment": (_bytes(_commented), "a comment"),
    "one body for all": (_bytes(_all_at_the_first), ""),
    "less stated than held": (_bytes(_less_than_it_holds), ""),
    "encrypted": (_bytes(_encrypted), "encrypted"),
    "LZMA": (_method(zipfile.ZIP_LZMA), "packed by lzma"),
    "bzip2": (_method(zipfile.ZIP_BZIP2), "packed by bzip2"),
    "damaged LZMA": (_damaged(zipfile.ZIP_LZMA), ""),
    "damaged bzip2": (_damaged(zipfile.ZIP_BZIP2), ""),
    "damaged Deflate": (_damaged(zipfile.ZIP_DEFLATED), ""),
    "cut short": (_bytes(lambda data: data[: len(data) // 2]), "not a readable zip"),
    "empty": (lambda path, _: path.write_bytes(b""), "not a readable zip"),
    "a bomb in the GeoPackage": (_bomb("cores.gpkg", 100), "more than the"),
    "a bomb in a table": (_bomb("cores.csv", 100), "more than the"),
    "a bomb in a text": (_bomb("how-to-read.html", 51), "more than any such file"),
}
