"""Pages of papers as pictures, against what they looked like when a person last looked at them.

usage: pages.py PAPERS GOLDEN [update]

GOLDEN holds NAME-PAGE.png for each page that is held, PAPERS the file NAME.pdf. A page is drawn by pypdfium2 at
60 dots an inch and compared in tiles of 8 by 8 dots, so that another smoothing of letters is no difference and a
line that is gone, moved or over another is one. Where a page differs, what it looks like now is left beside the
papers. With "update" the pictures are made anew.
"""

import sys
from pathlib import Path

import cv2
import numpy
import pypdfium2

DOTS = 60
TILE = 8
# Of 255, on the mean of a tile: a letter's stroke more or less is about 30.
DIFFERENT = 14


def drawn(paper: Path, page: int):
    document = pypdfium2.PdfDocument(paper)
    if page > len(document):
        return None
    return numpy.asarray(document[page - 1].render(scale=DOTS / 72, grayscale=True).to_pil().convert("L"))


def tiles(picture):
    height, width = (side // TILE * TILE for side in picture.shape)
    blocks = picture[:height, :width].astype(float).reshape(height // TILE, TILE, width // TILE, TILE)
    return blocks.mean(axis=(1, 3))


def main() -> int:
    papers, golden = Path(sys.argv[1]), Path(sys.argv[2])
    update = sys.argv[3:] == ["update"]
    failed = compared = 0
    for held in sorted(golden.glob("*.png")):
        compared += 1
        name, page = held.stem.rsplit("-", 1)
        paper = papers / f"{name}.pdf"
        now = drawn(paper, int(page)) if paper.exists() else None
        if now is None:
            print(f"{held.name}: there is no such page any more")
            failed += 1
            continue
        if update:
            cv2.imwrite(str(held), now, [cv2.IMWRITE_PNG_COMPRESSION, 9])
        before = cv2.imread(str(held), cv2.IMREAD_GRAYSCALE)
        if before is None or before.shape != now.shape:
            print(f"{held.name}: {now.shape} dots instead of {None if before is None else before.shape}")
            failed += 1
            continue
        apart = numpy.abs(tiles(before) - tiles(now))
        if apart.max() > DIFFERENT:
            row, column = numpy.unravel_index(apart.argmax(), apart.shape)
            place = (TILE * column / DOTS * 25.4, TILE * row / DOTS * 25.4)
            cv2.imwrite(str(papers / f"{held.stem}-now.png"), now)
            print(
                f"{held.name}: {int((apart > DIFFERENT).sum())} tiles differ, most of all {place[0]:.0f} mm from the "
                f"left and {place[1]:.0f} mm from the top; see {held.stem}-now.png beside the paper"
            )
            failed += 1
    print(f"{compared - failed} passed, {failed} failed")
    return 1 if failed or not compared else 0


sys.exit(main())
