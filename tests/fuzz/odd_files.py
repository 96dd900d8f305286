"""Files changed in their lines or bytes, or cut into several in folders with names that those of others have."""

import pandas as pd

_FOLDERS = (
    "", "", "", "district=A", "district=A1", "district=A10", "crew=B", "x=", "=x", "a=b=c", "1", "01", "10", "1a", "a1", "_aside", ".aside",
    "district=__HIVE_DEFAULT_PARTITION__", "p=%2F..%2F", "a b", "é=ü", "CASE", "case", "x" * 200, "²", "٣", "a\u202eb", "[red]", "'", "%s{}",
)  # fmt: skip


def chosen(rng, choices):
    """Return one of some choices."""
    return choices[int(rng.integers(len(choices)))]


def odd_lines(rng, text):
    """Return the bytes of a text with some lines of it changed."""
    lines = text.split(b"\n")
    for _ in range(1 + int(rng.integers(4))):
        at, other = (int(rng.integers(len(lines))) for _ in range(2))
        line = lines[at]
        cut = int(rng.integers(len(line) + 1))
        lines[at : at + 1] = chosen(rng, (
            [line, line], [], [lines[other]], [line + b",more"], [line[:cut]], [line[:cut] + b'"' + line[cut:]], [b"", line],
            [line[:cut] + b"\r" + line[cut:]], [line.replace(b",", b";")], [line[:cut] + b"\x00" + line[cut:]],
            [line[:cut] + bytes([int(rng.integers(256))]) + line[cut:]], [line[:cut], line[cut:]], [line * 200],
            [line[:cut] + b"\xc3" + line[cut:]], [b"Total,,,,", line], [line[:cut] + b"x" * 140_000 + line[cut:]],
        ))  # fmt: skip
    return chosen(rng, (b"\n", b"\n", b"\n", b"\r\n", b"\r")).join(lines)


def odd_bytes(rng, text):
    """Return the bytes of a file with some of them changed."""
    raw = bytearray(text)
    for _ in range(1 + int(rng.integers(6))):
        at, size = int(rng.integers(len(raw) + 1)), int(rng.integers(1, 200))
        noise = rng.bytes(size)
        how = int(rng.integers(5))
        if how == 0:
            raw[at : at + size] = noise
        elif how == 1:
            raw[at:at] = noise
        elif how == 2:
            del raw[at : at + size]
        elif how == 3 and raw:
            raw[min(at, len(raw) - 1)] ^= 1 << int(rng.integers(8))
        elif rng.random() < 0.3:
            del raw[at:]
    return bytes(raw)


def write_parts(rng, folder, end):
    """Write cores.csv of a town as several files of a format, in sub-folders or beside each other; return the path."""
    table = pd.read_csv(folder / "cores.csv", dtype=str, keep_default_na=False)
    count = 1 + int(rng.integers(5))
    part = rng.integers(count, size=len(table))
    for number in range(count):
        name = chosen(rng, _FOLDERS)
        if end == "csv":
            file = folder / f"cores-{name}{number}.csv"
        else:
            below = chosen(rng, _FOLDERS)
            file = folder / "parts" / name / below / f"{'abc'[number % 3]}{number}.{end}"
        file.parent.mkdir(parents=True, exist_ok=True)
        rows = table[part == number]
        if rng.random() < 0.1:
            rows = rows.iloc[:, ::-1]
        if rng.random() < 0.05:
            rows = rows.drop(columns=rows.columns[int(rng.integers(rows.shape[1]))])
        rows.to_csv(file, index=False) if end == "csv" else rows.to_parquet(file)
    return "cores-*.csv" if end == "csv" else "parts"
