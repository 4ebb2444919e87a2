"""Writes seeds for the fuzz targets: python seeds.py FOLDER. Run by tests/fuzz/run; openpyxl, odfpy and xlwt make real workbooks."""

import io
import pathlib
import re
import sys
import zipfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
OUT = pathlib.Path(sys.argv[1])
MOST = 24_000  # bytes of a seed; the fuzzer cuts at 65,536
TABLES = ["runs", "calipers", "contours", "flow", "frames", "balloons", "charts", "observations"]
RIGS = 14  # as many as shared/rigs.rs lists


def write(target, name, data):
    folder = OUT / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(data)


def thinned(path):
    """A recording with every n-th row, so that it fits and its whole course is still there."""
    lines = path.read_bytes().splitlines(keepends=True)
    head, rows = lines[:12], lines[12:]
    step = max(1, sum(map(len, rows)) // MOST)
    return b"".join(head + rows[::step] + rows[-3:])


def stamp(seconds):
    return f"2025-04-08T23:59:{seconds:06.3f}Z"


def made():
    """Short recordings in the other dialects: clocks, blanks, marks, encodings."""
    rows = [(at / 50, 10 * at if at < 40 else 4, at / 100) for at in range(50)]
    text = {
        "blanks": "".join(f"{p:9.2f}   {p + 1:9.2f} {v:7.3f}\n" for _, p, v in rows),
        "iso": "time,p [kPa],v [mL]\n" + "".join(f"{stamp(t)},{p},{v}\n" for t, p, v in rows),
        "epoch": "t\tp\tv\n" + "".join(f"{1.7e12 + 1000 * t:.0f}\t{p}\t{v}\n" for t, p, v in rows),
        "local": "Zeit;Druck [bar];Vol [mL]\r\n"
        + "".join(f"08.04.2025 10:00:{t:06.3f};{p};{v}\r\n".replace(".", ",").replace("08,04,", "08.04.") for t, p, v in rows),
        "of-day": "t|p|v\n" + "".join(f"23:59:59.{int(1000 * t) % 1000:03}|1 {p:03}|{v}\n" for t, p, v in rows),
        "index": "# remark\nn,p,v\n" + "".join(f"{at},{p},{v}\n" for at, (_, p, v) in enumerate(rows)),
        "words": "t,p,v\n" + "".join(f'{t},"{p}",{v if at % 5 else "OVL"}\n' for at, (t, p, v) in enumerate(rows)),
        "restart": ("t,p,v\n" + "".join(f"{t},{p},{v}\n" for t, p, v in rows[:20])) * 2,
        "return": "t,p,v\r" + "".join(f"{t},{p},{v}\r" for t, p, v in rows),
    }
    data = {name: words.encode() for name, words in text.items()}
    data["utf-16"] = text["iso"].encode("utf-16")
    data["latin-1"] = text["local"].replace("Zeit", "Prüfzeit").encode("latin-1")
    return data


def recordings():
    for path in sorted((ROOT / "sample-runs").glob("*/traces/*.csv"))[::4]:
        yield path.stem, thinned(path)
    yield from made().items()


def books():
    """Real workbooks: one recording, one study, in three file formats."""
    import openpyxl
    import xlwt
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    def cell(text):
        try:
            return float(text)
        except ValueError:
            return text

    study = ROOT / "sample-runs/first-look"
    sheets = {name: [line.split(",") for line in (study / f"{name}.csv").read_text().splitlines()[:40]] for name in TABLES}
    trace = [line.split(",") for line in made()["iso"].decode().splitlines()]
    for name, tables in {"study": sheets, "trace": {"Sheet1": trace}}.items():
        xlsx, xls, ods = openpyxl.Workbook(), xlwt.Workbook(), OpenDocumentSpreadsheet()
        xlsx.remove(xlsx.active)
        for title, rows in tables.items():
            new, old, open_ = xlsx.create_sheet(title), xls.add_sheet(title), Table(name=title)
            for at, row in enumerate(rows):
                new.append([cell(text) for text in row])
                line = TableRow()
                for column, text in enumerate(row):
                    value = cell(text)
                    old.write(at, column, value)
                    kind = {"valuetype": "float", "value": value} if isinstance(value, float) else {"valuetype": "string"}
                    item = TableCell(**kind)
                    item.addElement(P(text=text))
                    line.addElement(item)
                open_.addElement(line)
            ods.spreadsheet.addElement(open_)
        for ending, book in {"xlsx": xlsx, "xls": xls, "ods": ods}.items():
            data = io.BytesIO()
            book.save(data)
            yield f"made-{name}.{ending}", data.getvalue()


def parts(name, data):
    """Parts of a workbook behind the digit that shared/workbook.rs knows."""
    kinds = {r"xl/worksheets/": "1", r"xl/sharedStrings": "2", r"xl/styles": "3", r"xl/workbook.xml$": "4", r"^content.xml": "5"}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for item in archive.namelist():
            for pattern, kind in kinds.items():
                if re.search(pattern, item):
                    yield f"{name}-{item.replace('/', '-')}", kind.encode() + archive.read(item)[:MOST]


def sheets():
    found = [(path.name, path.read_bytes()) for path in sorted((ROOT / "tests/data/read").iterdir()) if path.is_file()]
    try:
        found += list(books())
    except ImportError as error:
        print(f"only the workbooks of tests/data/read: {error}", file=sys.stderr)
    for name, data in found:
        if data.startswith((b"PK", b"\xd0\xcf")):
            write("sheet", name, data)
        if data.startswith(b"PK"):
            for part, bytes_ in parts(name, data):
                write("sheet", part, bytes_)
    shared = (ROOT / "tests/fuzz/shared/workbook.rs").read_text()
    write("sheet", "strings", b"2" + re.search(r'const STRINGS: &str = r#"(.*?)"#', shared).group(1).encode())


def main():
    for name, data in recordings():
        write("survey", name, data)
        for rig in range(RIGS):
            write("trace", f"{name}-{rig}", bytes([rig]) + data[: MOST if rig == 0 else 4000])
    for name in ["index", "words", "restart", "return"]:
        write("judge", name, bytes([8, 4, 1, 0]) + made()[name])
        write("judge", f"{name}-long", bytes([8, 4, 1, 254]) + made()[name])
    write("judge", "pieces", bytes([0, 4, 1, 1]) + bytes([47, 49, 50, 49, 51, 10, 0, 12, 0, 40, 4, 49]))
    for at, table in enumerate(TABLES):
        for path in sorted((ROOT / "sample-runs").glob(f"*/{table}.csv")):
            text = path.read_bytes()[:MOST]
            write("table", f"{path.parent.name}-{table}", bytes([at]) + text)
            write("table", f"{path.parent.name}-{table}-semicolon", bytes([at]) + text.replace(b".", b",;").replace(b",", b";"))
    for path in [*sorted((ROOT / "rigs").glob("*.toml")), *sorted((ROOT / "sample-runs").glob("*/rigs/*.toml"))]:
        write("rig", f"{path.parent.parent.name}-{path.stem}", path.read_bytes())
    shared = (ROOT / "tests/fuzz/shared/rigs.rs").read_text()
    channels = re.search(r'const CHANNELS: &str = "(.*?)";', shared, re.S).group(1)
    channels = re.sub(r"\\\n\s*", "", channels).replace(r"\n", "\n").replace(r"\"", '"')
    write("rig", "channels", b'[dialect]\nmode = "given"\ndelimiter = ","\n[clock]\nkind = "relative"\ncolumn = 0\nunit = "s"\n' + channels.encode())
    for path in sorted((ROOT / "sample-runs").glob("*/study.toml")):
        write("study", path.parent.name, path.read_bytes())
    readme = (ROOT / "README.md").read_text()
    write("study", "readme", re.search(r"```toml\n(.*?)```", readme, re.S).group(1).encode())
    settings = re.findall(r"^    pub (\w+): (\w+)", (ROOT / "src/rig/settings.rs").read_text(), re.M)
    lines = [f"{name} = {'0.5' if kind == 'f64' else '3'}" for name, kind in settings]
    write("study", "settings", ("[settings]\n" + "\n".join(lines) + "\n").encode())
    sheets()


main()
