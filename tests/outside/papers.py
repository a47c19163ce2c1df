"""Measures written papers with outside libraries.

Usage: papers.py FOLDER EXPECTED.json

EXPECTED.json says what the survey asked for, never what the program answered:
  charts     file, circuits [number, words]
  templates  name (without extension), width, depth, entries [label, x, y, diameter | width and
             height, existing], and where it is another: paper (short and long side), pdf_only,
             mirrored (the pdf shows the plate from inside)
  orders     name, lines {start of the item: quantity}
  surveys    file (a survey as exported), stem (start of its papers' names); what they ask for is read
             from the survey itself, hole sizes from the tables in the folder named under "tables"
Any part may be missing. Lengths in millimetres. Prints "N passed, N failed"; exit code 1 when one failed.
"""

import csv
import json
import pathlib
import sys

import ezdxf
import openpyxl
import pdfplumber
import pypdf
from defusedxml import ElementTree

LIMIT = 0.05
POINT = 25.4 / 72
A4 = (210.0, 297.0)
BEFORE_WORK = "Isolate,lockoffandprovedead"

passed = failed = 0


def check(holds, words):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
        print("FAILED:", words)


def squeezed(text):
    """Text without spaces and break marks, to compare words a cell has broken over lines."""
    return "".join(letter for letter in text if not letter.isspace() and letter != "\u200b" and ord(letter) >= 32)


def near(a, b, limit=LIMIT):
    return abs(a - b) <= limit


def is_on(page, paper):
    size = sorted((float(page.width) * POINT, float(page.height) * POINT))
    return near(size[0], paper[0], 0.1) and near(size[1], paper[1], 0.1)


def is_a4(page):
    return is_on(page, A4)


def chart(folder, want):
    path = folder / want["file"]
    reader = pypdf.PdfReader(path)
    check(bool(reader.metadata and reader.metadata.title), f"{path.name}: has a title")
    check(bool(reader.trailer["/Root"].get("/MarkInfo", {}).get("/Marked")), f"{path.name}: is tagged")
    with pdfplumber.open(path) as pdf:
        pages = [squeezed("\n".join(cells(page)) + "\n" + page.extract_text()) for page in pdf.pages]
        count = len(pdf.pages)
        for number, (page, text) in enumerate(zip(pdf.pages, pages), 1):
            check(is_a4(page) and page.width > page.height, f"{path.name} page {number}: A4 landscape")
            check(BEFORE_WORK in text, f"{path.name} page {number}: caution")
            check(f"page{number}of{count}" in text, f"{path.name} page {number}: number")
            over = [letter for letter in page.chars if letter["x1"] > page.width + 0.5 or letter["bottom"] > page.height + 0.5]
            check(not over, f"{path.name} page {number}: nothing off the paper")
    whole = "".join(pages)
    for circuit in want["circuits"]:
        for key in ("number", "words"):
            check(squeezed(circuit[key]) in whole, f"{path.name}: circuit {circuit['number']!r} {key}")


def cells(page):
    """Text cell by cell, so that a description broken over lines reads as one."""
    for table in page.extract_tables():
        for row in table:
            for cell in row:
                yield cell or ""


def lines(page):
    """Straight lines as (x0, y0, x1, y1) in millimetres from the upper left corner."""
    for line in page.lines:
        yield tuple(float(value) * POINT for value in (line["x0"], line["top"], line["x1"], line["bottom"]))


def box(shape):
    return tuple(float(shape[key]) * POINT for key in ("x0", "top", "x1", "bottom"))


def template_pdf(folder, want):
    path = folder / (want["name"] + ".pdf")
    found = {}
    strays = []
    with pdfplumber.open(path) as pdf:
        texts = [squeezed(page.extract_text()) for page in pdf.pages]
        # As written: on a crowded plate the words of neighbours share lines.
        written = [squeezed("".join(letter["text"] for letter in page.chars)) for page in pdf.pages]
        check(BEFORE_WORK in squeezed(pdf.pages[0].extract_text()) or BEFORE_WORK in texts[0], f"{path.name}: cautions first")
        sheets = 0
        for number, page in enumerate(pdf.pages, 1):
            drawn = any(near((shape["x1"] - shape["x0"]) * POINT, want["width"], 0.1) for shape in page.rects + page.curves)
            paper = want.get("paper", A4)
            check(is_on(page, paper) or (not drawn and is_a4(page)), f"{path.name} page {number}: paper")
            check(BEFORE_WORK in texts[number - 1], f"{path.name} page {number}: caution")
            check(f"page{number}of{len(pdf.pages)}" in texts[number - 1], f"{path.name} page {number}: number")
            outlines = [
                box(shape)
                for shape in page.rects + page.curves
                if near((shape["x1"] - shape["x0"]) * POINT, want["width"], 0.1)
                and near((shape["bottom"] - shape["top"]) * POINT, want["depth"], 0.1)
            ]
            if not outlines:
                continue
            sheets += 1
            x0, y0, x1, y1 = outlines[0]
            check(near(x1 - x0, want["width"]) and near(y1 - y0, want["depth"]), f"{path.name} page {number}: outline")
            straight = list(lines(page))
            check(any(near(b - a, 100) and near(c, d) for a, c, b, d in straight), f"{path.name} page {number}: level 100 mm bar")
            check(any(near(d - c, 100) and near(a, b) for a, c, b, d in straight), f"{path.name} page {number}: upright 100 mm bar")
            for shape in page.curves + page.rects:
                a, c, b, d = box(shape)
                middle = ((a + b) / 2 - x0, (c + d) / 2 - y0)
                hits = [entry for entry in want["entries"] if matches(entry, middle, b - a, d - c)]
                for entry in hits:
                    cross = [
                        line
                        for line in straight
                        if near((line[0] + line[2]) / 2 - x0, entry["x"]) and near((line[1] + line[3]) / 2 - y0, entry["y"])
                    ]
                    found.setdefault(entry["label"], []).append(len(cross) >= 2)
                # Holes are drawn in lines of 0.6 points; nothing else round is.
                if not hits and shape in page.curves and near(float(shape["linewidth"] or 0), 0.6, 0.01) and near(b - a, d - c):
                    strays.append((number, middle, b - a))
        joints(path, pdf, texts, want)
        check(sheets >= 1, f"{path.name}: has sheets with the plate true to size")
        if want.get("mirrored"):
            check(any("MIRRORED" in text for text in texts), f"{path.name}: says that it is mirrored")
    for entry in want["entries"]:
        seen = found.get(entry["label"], [])
        check(bool(seen), f"{path.name}: {entry['label']} within {LIMIT} mm on a sheet")
        check(any(seen), f"{path.name}: {entry['label']} has its centre cross")
        for number in (entry.get("table_x", entry["x"]), entry.get("table_y", entry["y"])):
            check(f"{number:g}" in texts[-1] or any(f"{number:g}" in text for text in texts), f"{path.name}: {number:g} in the table")
        beside = f"X{entry.get('table_x', entry['x']):g}·Y{entry.get('table_y', entry['y']):g}"
        check(any(beside in text for text in written), f"{path.name}: {beside} beside {entry['label']}")
    check(not strays, f"{path.name}: no hole that was not asked for: {strays}")


def true_to_size(path):
    """The PDF asks its reader not to scale it: ISO 32000-1, 12.2."""
    reader = pypdf.PdfReader(path, strict=True)
    preferences = reader.trailer["/Root"].get("/ViewerPreferences", {})
    check(preferences.get("/PrintScaling") == "/None", f"{path.name}: print scaling none")
    check(len(reader.pages) > 0 and all(page.extract_text() is not None for page in reader.pages), f"{path.name}: reads whole")


def joints(path, pdf, texts, want):
    """Lays the sheets on one another as the first page says, from the PDF alone: joint line on joint line, ring on ring."""
    sheets = {}
    first = texts[0]
    for page, said in zip(pdf.pages, texts):
        start = said.find("Sheet")
        number = said[start + 5 :].split("of", 1)[0] if start >= 0 else ""
        if number.count(".") != 1 or not number.replace(".", "").isdigit():
            continue
        outlines = [
            box(shape)
            for shape in page.rects + page.curves
            if near((shape["x1"] - shape["x0"]) * POINT, want["width"], 0.1)
            and near((shape["bottom"] - shape["top"]) * POINT, want["depth"], 0.1)
        ]
        if not outlines:
            continue
        corners = [
            ((a + b) / 2, (c + d) / 2)
            for line in page.lines
            if near(float(line["linewidth"]), 0.3, 0.01)
            for a, c, b, d in [box(line)]
            if near(max(b - a, d - c), 5)
        ]
        left, right = min(x for x, _ in corners), max(x for x, _ in corners)
        upper, lower = min(y for _, y in corners), max(y for _, y in corners)
        thin = [box(line) for line in page.lines if near(float(line["linewidth"]), 0.25, 0.01)]
        upright = [a for a, c, b, d in thin if near(a, b) and near(d - c, lower - upper)]
        level = [c for a, c, b, d in thin if near(c, d) and near(b - a, right - left)]
        rings = [
            ((a + b) / 2, (c + d) / 2)
            for shape in page.curves
            if near(float(shape["linewidth"] or 0), 0.4, 0.01)
            for a, c, b, d in [box(shape)]
            if near(b - a, 4) and near(d - c, 4)
        ]
        sheets[tuple(map(int, number.split(".")))] = {
            "plate": outlines[0][:2],
            "left": [x for x in upright if x < (left + right) / 2],
            "right": [x for x in upright if x > (left + right) / 2],
            "up": [y for y in level if y < (upper + lower) / 2],
            "down": [y for y in level if y > (upper + lower) / 2],
            "rings": rings,
        }
        for letter in page.chars:
            a, c, b, d = box(letter)
            meets = b > left and a < right and d > upper and c < lower
            inside = a >= left - 0.1 and b <= right + 0.1 and c >= upper - 0.6 and d <= lower + 0.6
            check(not meets or inside, f"{path.name}: {letter['text']!r} of sheet {number} is cut at an edge")
    check(len(sheets) < 2 or "jointline" in first, f"{path.name}: says how to join")
    for (row, column), sheet in sheets.items():
        for side, other_side, place, axis in (("right", "left", (row, column + 1), 0), ("down", "up", (row + 1, column), 1)):
            other = sheets.get(place)
            if other is None:
                check(not sheet[side], f"{path.name}: no joint line where no sheet follows {row}.{column}")
                continue
            check(len(sheet[side]) == 1 and len(other[other_side]) == 1, f"{path.name}: one joint line each at {row}.{column} {side}")
            if len(sheet[side]) != 1 or len(other[other_side]) != 1:
                continue
            mine, theirs = sheet[side][0], other[other_side][0]
            on = [[ring for ring in one["rings"] if near(ring[axis], line)] for one, line in ((sheet, mine), (other, theirs))]
            check(len(on[0]) == 2 and len(on[1]) == 2, f"{path.name}: two rings on the joint line at {row}.{column} {side}")
            if len(on[0]) != 2 or len(on[1]) != 2:
                continue
            across = min(ring[1 - axis] for ring in on[0]) - min(ring[1 - axis] for ring in on[1])
            shift = [0.0, 0.0]
            shift[axis], shift[1 - axis] = mine - theirs, across
            laid = [other["plate"][index] + shift[index] for index in (0, 1)]
            check(
                near(laid[0], sheet["plate"][0]) and near(laid[1], sheet["plate"][1]),
                f"{path.name}: joined at {row}.{column} {side} the plate shifts by {laid[0] - sheet['plate'][0]:.2f}, {laid[1] - sheet['plate'][1]:.2f}",
            )


def matches(entry, middle, width, height):
    if not (near(middle[0], entry["x"]) and near(middle[1], entry["y"])):
        return False
    if "between" in entry:
        return round_enough(entry, width) and near(width, height)
    if "diameter" in entry:
        return near(width, entry["diameter"]) and near(height, entry["diameter"])
    return near(width, entry["width"]) and near(height, entry["height"])


def is_round(entry):
    return "diameter" in entry or "between" in entry


def round_enough(entry, diameter):
    """The diameter asked for, or one within the limits of the clearance hole."""
    least, most = entry.get("between") or (entry["diameter"], entry["diameter"])
    return least - LIMIT <= diameter <= most + LIMIT


def template_dxf(folder, want):
    path = folder / (want["name"] + ".dxf")
    drawing = ezdxf.readfile(path)
    check(drawing.dxfversion == "AC1009", f"{path.name}: release 12")
    check(not drawing.audit().errors, f"{path.name}: audit without errors")
    for layer in ("OUTLINE", "HOLES", "SLOTS", "EXISTING", "CENTRES", "TEXT"):
        check(layer in drawing.layers, f"{path.name}: layer {layer}")
    space = drawing.modelspace()
    outline = [polygon(one) for one in space.query('POLYLINE[layer=="OUTLINE"]')]
    check(
        len(outline) == 1 and all(near(a, b, 1e-6) for a, b in zip(outline[0], (0, -want["depth"], want["width"], 0))),
        f"{path.name}: outline {outline}",
    )
    round_wanted = [entry for entry in want["entries"] if is_round(entry)]
    circles = {layer: list(space.query(f'CIRCLE[layer=="{layer}"]')) for layer in ("HOLES", "EXISTING")}
    check(sum(map(len, circles.values())) == len(round_wanted), f"{path.name}: as many circles as round holes")
    for entry in round_wanted:
        layer = "EXISTING" if entry.get("existing") else "HOLES"
        check(
            any(
                near(one.dxf.center.x, entry["x"]) and near(one.dxf.center.y, -entry["y"]) and round_enough(entry, 2 * one.dxf.radius)
                for one in circles[layer]
            ),
            f"{path.name}: {entry['label']} on {layer}",
        )
    slots = [polygon(one) for one in space.query('POLYLINE[layer=="SLOTS"]')]
    for entry in (entry for entry in want["entries"] if "width" in entry):
        x, y, w, h = entry["x"], -entry["y"], entry["width"] / 2, entry["height"] / 2
        check(
            any(all(near(a, b) for a, b in zip(slot, (x - w, y - h, x + w, y + h))) for slot in slots),
            f"{path.name}: {entry['label']} on SLOTS",
        )
    words = " ".join(one.dxf.text for one in space.query("TEXT"))
    for entry in want["entries"]:
        check(entry["label"] in words, f"{path.name}: label {entry['label']}")
    # The bolt of an earth tag stands on every output alike: drawing, template, table.
    tags = {
        text.dxf.text.split(",")[0]: circle
        for circle in space.query('CIRCLE[layer=="TAGS"]')
        for text in space.query("TEXT")
        if "earth tag" in text.dxf.text
        and near(text.dxf.insert.x, circle.dxf.center.x + circle.dxf.radius + 0.5)
        and near(text.dxf.insert.y, circle.dxf.center.y + 0.5)
    }
    check(len(tags) == len(space.query('CIRCLE[layer=="TAGS"]')), f"{path.name}: each bolt of an earth tag is named")
    root = ElementTree.parse(folder / (want["name"] + ".svg")).getroot()
    circles = {one.get("id"): one for one in root.iter("{http://www.w3.org/2000/svg}circle") if one.get("class") == "tag"}
    check(set(circles) == set(tags), f"{path.name}: the same tags on the SVG")
    written = []
    if tags:
        with pdfplumber.open(folder / (want["name"] + ".pdf")) as pdf:
            written = [squeezed("".join(letter["text"] for letter in page.chars)) for page in pdf.pages]
    for label, circle in tags.items():
        x, y, d = circle.dxf.center.x, -circle.dxf.center.y, 2 * circle.dxf.radius
        other = circles.get(label)
        check(
            other is not None and near(float(other.get("cx")), x) and near(float(other.get("cy")), y) and near(2 * float(other.get("r")), d),
            f"{path.name}: {label} on the SVG",
        )
        check(any(label in text and "earthtag" in text for text in written[-3:]), f"{path.name}: {label} in the table of the PDF")
        check(any(f"{label}X" in text for text in written), f"{path.name}: {label} on a sheet of the PDF")


def polygon(polyline):
    points = [vertex.dxf.location for vertex in polyline.vertices]
    if not polyline.is_closed:
        return (0, 0, 0, 0)
    xs, ys = [point.x for point in points], [point.y for point in points]
    return (min(xs), min(ys), max(xs), max(ys))


def template_svg(folder, want):
    path = folder / (want["name"] + ".svg")
    root = ElementTree.parse(path).getroot()
    view = [float(value) for value in root.get("viewBox").split()]
    check(
        root.get("width") == f"{view[2]:g}mm" and root.get("height") == f"{view[3]:g}mm",
        f"{path.name}: one unit is a millimetre",
    )
    name = "{http://www.w3.org/2000/svg}"
    circles = {one.get("id"): one for one in root.iter(name + "circle")}
    rects = {one.get("id"): one for one in root.iter(name + "rect")}
    for entry in want["entries"]:
        if is_round(entry):
            one = circles.get(entry["label"])
            good = (
                one is not None
                and near(float(one.get("cx")), entry["x"])
                and near(float(one.get("cy")), entry["y"])
                and round_enough(entry, 2 * float(one.get("r")))
            )
        else:
            one = rects.get(entry["label"])
            good = one is not None and all(
                near(float(one.get(key)), value)
                for key, value in (
                    ("x", entry["x"] - entry["width"] / 2),
                    ("y", entry["y"] - entry["height"] / 2),
                    ("width", entry["width"]),
                    ("height", entry["height"]),
                )
            )
        check(good, f"{path.name}: {entry['label']}")


def order(folder, want):
    path = folder / (want["name"] + ".csv")
    with open(path, encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    check(rows[0] == ["Part", "Item", "Quantity", "Unit", "Needed", "Fitted", "For", "Note"], f"{path.name}: headings")
    check(all(len(row) == 8 for row in rows), f"{path.name}: eight cells in each row")
    bad = [cell for row in rows for cell in row if cell[:1] in "=+-@\t\r" and cell]
    check(not bad, f"{path.name}: no cell begins as a formula: {bad}")
    for item, quantity in want["lines"].items():
        check(any(row[1].startswith(item) and float(row[2]) == quantity for row in rows[1:]), f"{path.name}: {quantity} of {item}")
    # The last row is no part: it bears the caution that the sheet has above its headings.
    caution = rows.pop()
    check(caution[0] == "note" and "lockoffandprovedead" in squeezed(caution[1]) and not any(caution[2:]), f"{path.name}: caution")
    book = openpyxl.load_workbook(folder / (want["name"] + ".xlsx"))
    sheet = book.active
    check(sheet.cell(3, 1).value == caution[1], f"{want['name']}.xlsx: caution")
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
    check(all(cell.data_type != "f" for cell in cells), f"{want['name']}.xlsx: no formula")
    table = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=6, max_col=8)]
    check(len(table) == len(rows) - 1, f"{want['name']}.xlsx: as many rows as the CSV")
    for mine, theirs in zip(table, rows[1:]):
        texts = [mine[index] or "" for index in (0, 1, 3, 6, 7)]
        others = [theirs[index].removeprefix("'") for index in (0, 1, 3, 6, 7)]
        check([text.removeprefix("'") for text in texts] == others, f"{want['name']}.xlsx: row {mine[1]!r} as in the CSV")
        check(float(mine[2]) == float(theirs[2]), f"{want['name']}.xlsx: quantity of {mine[1]!r}")
        # Pieces, modules and metres to buy are those needed less those fitted.
        fitted = float(theirs[5] or 0)
        check(float(mine[4]) == float(theirs[4]) and float(mine[5] or 0) == fitted, f"{want['name']}.xlsx: fitted of {mine[1]!r}")
        check(float(mine[2]) == max(float(mine[4]) - fitted, 0), f"{want['name']}.xlsx: needed less fitted of {mine[1]!r}")


UNITS = {"A": 1, "mA": 1e-3, "kA": 1e3, "W": 1, "kW": 1e3, "mm2": 1, "mm²": 1, "m": 1}


def number(reading, unit):
    """The number of a reading of the survey file in a unit, where it is one without tolerance."""
    if not reading or "value" not in reading or "tolerance" in reading:
        return None
    value, _, written = reading["value"].partition(" ")
    return float(value) * UNITS[written] / UNITS[unit]


def schedule(folder, survey):
    """Every circuit of the survey file stands in the schedule with its numbers, in the CSV as in the XLSX."""
    board = json.loads(open(survey["file"], encoding="utf-8").read())["board"]
    name = f"{survey['stem']}-schedule"
    with open(folder / f"{name}.csv", encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    heads, rows, caution = rows[0], rows[1:-1], rows[-1]
    check("lockoffandprovedead" in squeezed(caution[0]), f"{name}.csv: caution")
    bad = [cell for row in rows for cell in row if cell[:1] in "=+@\t\r" and cell]
    check(not bad, f"{name}.csv: no cell begins as a formula: {bad}")
    live = [one for one in board["circuits"].values() if not one.get("removed")]
    check(len(rows) == len(live), f"{name}.csv: {len(live)} circuits")

    def column(head):
        check(head in heads, f"{name}.csv: column {head}")
        return heads.index(head)

    columns = {
        "What the circuit feeds": lambda circuit, device, cable: circuit.get("description") or None,
        "Rated current of the device, In [A]": lambda circuit, device, cable: number(device.get("rated"), "A"),
        "Short-circuit capacity of the device [kA]": lambda circuit, device, cable: number(device.get("breaking"), "kA"),
        "Cable size [mm²]": lambda circuit, device, cable: number(cable.get("size"), "mm²"),
        "Length of the cable [m]": lambda circuit, device, cable: number(cable.get("length"), "m"),
        "Power [kW]": lambda circuit, device, cable: number(circuit.get("load", {}).get("power"), "kW"),
    }
    wanted = {head: [] for head in columns}
    for circuit in live:
        device = board["devices"].get(circuit.get("device"), {})
        cable = board["cables"].get(circuit.get("cable"), {})
        for head, of in columns.items():
            value = of(circuit, device, cable)
            if value is not None:
                wanted[head].append(value)
    for head, values in wanted.items():
        if not values:
            continue
        at = column(head)
        if head == "What the circuit feeds":
            check(sorted(row[at].removeprefix("'") for row in rows if row[at]) == sorted(values), f"{name}.csv: {head}")
            continue
        found = [float(row[at]) for row in rows if row[at].replace(".", "", 1).isdigit()]
        same = len(found) == len(values) and all(near(a, b) for a, b in zip(sorted(found), sorted(values)))
        check(same, f"{name}.csv: {head}: {sorted(values)} became {sorted(found)}")
    book = openpyxl.load_workbook(folder / f"{name}.xlsx")
    check(len(book.worksheets) == 3, f"{name}.xlsx: circuits, entries, board")
    check(all(cell.data_type != "f" for sheet in book for row in sheet.iter_rows() for cell in row), f"{name}.xlsx: no formula")
    sheet = book.worksheets[0]
    table = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=5)]
    check(table[0] == heads, f"{name}.xlsx: headings as in the CSV")
    text = lambda value: "" if value is None else str(int(value) if isinstance(value, float) and value.is_integer() else value)
    for mine, theirs in zip(table[1:], rows):
        check([text(value).removeprefix("'") for value in mine] == [value.removeprefix("'") for value in theirs], f"{name}.xlsx: {mine[:2]}")
    check(len(table) - 1 == len(rows), f"{name}.xlsx: as many rows as the CSV")


def table(folder, name):
    lines = [line for line in (folder / name).read_text(encoding="utf-8").splitlines() if line and line[0] != "#"]
    return list(csv.DictReader(lines))


def millimetres(reading):
    return float(reading["value"].removesuffix("mm"))


def asked(survey, stem, tables):
    """What a survey asks of its papers."""
    board = json.loads(pathlib.Path(survey).read_text(encoding="utf-8"))["board"]
    live = [one for one in board["circuits"].values() if not one.get("removed")]
    circuits = [{"number": one.get("number", ""), "words": one.get("description", "")} for one in live]
    limits = {}
    for row in table(tables, "gland.csv"):
        limits["ArmouredGland", row["size"]] = (row["hole_min_mm"], row["hole_max_mm"])
    for row in table(tables, "gland_thread.csv"):
        for kind in ("CompressionGland", "Blanked"):
            limits[kind, row["thread"].removeprefix("M")] = (row["hole_min_mm"], row["hole_max_mm"])
    for row in table(tables, "conduit.csv"):
        for kind in ("Conduit", "Bush"):
            limits[kind, row["size"]] = (row["hole_min_mm"], row["hole_max_mm"])
    templates = []
    for plate in board["plates"].values():
        if plate.get("removed"):
            continue
        entries = []
        for number, (_, entry) in enumerate(sorted(plate.get("entries", {}).items()), 1):
            if entry.get("removed") or not entry.get("at"):
                continue
            one = {"label": f"E{number}", "x": entry["at"][0], "y": entry["at"][1], "existing": entry.get("existing", False)}
            if entry["kind"] == "TrunkingCutOut":
                width, height = entry["size"].lower().split("x")
                one |= {"width": float(width), "height": float(height)}
            elif entry.get("hole"):
                one["diameter"] = float(entry["hole"].removesuffix("mm"))
            else:
                size = entry["size"].strip().upper().removeprefix("M")
                one["between"] = [float(value) for value in limits[entry["kind"], size]]
            entries.append(one)
        templates.append(
            {
                "name": f"{stem}-{plate['face']}-plate-template",
                "width": millimetres(plate["width"]),
                "depth": millimetres(plate["depth"]),
                "entries": entries,
            }
        )
    return {
        "charts": [{"file": f"{stem}-circuit-chart.pdf", "circuits": circuits}],
        "templates": templates,
        "orders": [{"name": f"{stem}-order-list", "lines": {}}],
    }


def guarded(job, *arguments):
    """A file that is missing or cannot be read is a failure, not the end of the run."""
    try:
        job(*arguments)
    except Exception as error:  # noqa: BLE001
        check(False, f"{job.__name__} {arguments[1].get('file') or arguments[1].get('name')}: {error!r}")


def main():
    if len(sys.argv) != 3:
        print(__doc__)
        return 2
    folder = pathlib.Path(sys.argv[1])
    want = json.loads(pathlib.Path(sys.argv[2]).read_text(encoding="utf-8"))
    for one in want.get("surveys", []):
        guarded(schedule, folder, one)
        try:
            more = asked(one["file"], one["stem"], pathlib.Path(want["tables"]))
        except Exception as error:  # noqa: BLE001
            check(False, f"survey {one}: {error!r}")
            continue
        for part, values in more.items():
            want.setdefault(part, []).extend(values)
    for one in want.get("charts", []):
        guarded(chart, folder, one)
    for one in want.get("templates", []):
        for job in (template_pdf,) if one.get("pdf_only") else (template_pdf, template_dxf, template_svg):
            guarded(job, folder, one)
    for path in sorted(folder.glob("*-template*.pdf")) + sorted(folder.glob("*-marker-sheet.pdf")):
        true_to_size(path)
    for one in want.get("orders", []):
        guarded(order, folder, one)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
