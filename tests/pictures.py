"""Takes the pictures of the README (`make pictures`): a live kneeboard page of a scripted
session, the same with a simulated aircraft, and the report that the demo has just written.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from browser import browser
from PIL import Image
from rehearsed import Rehearsed
from stage import Stage

CALLS = (
    "battery on", "affirm", "avionics on", "affirm", "going to gear", "three green", "one red",
    "horn sounding", "horn silenced", "horn returns", "going to reversers", "left side two",
)  # fmt: skip
SHADES = 64
MOST_BYTES = 150_000


def take(into: Path, log: Path) -> None:
    """log: the demo's, whose one session has a report."""
    into.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name, Stage(Path(name)) as stage:
        for words in CALLS:
            stage.say(words)
        with browser(Path(name) / "browser") as page:
            page.set_window_size(1280, 920)
            page.get(stage.page.url)
            time.sleep(2)
            page.save_screenshot(str(into / "kneeboard.png"))
            Rehearsed(stage, "lamp-dark:L UNLOCK").show()
            time.sleep(1)
            page.save_screenshot(str(into / "rehearsal.png"))
            (reported,) = log.glob("*/report.html")
            page.set_window_size(900, 1100)
            page.get(reported.absolute().as_uri())
            time.sleep(1)
            page.save_screenshot(str(into / "report.png"))
    for path in (into / "kneeboard.png", into / "rehearsal.png", into / "report.png"):
        with Image.open(path) as picture:
            small = picture.convert("RGB").quantize(SHADES, dither=Image.Dither.NONE)
        small.save(path, optimize=True)
        size = path.stat().st_size
        print(path, size)
        if size > MOST_BYTES:
            sys.exit(f"{path}: {size} bytes is more than {MOST_BYTES}")


if __name__ == "__main__":
    take(Path(sys.argv[1]), Path(sys.argv[2]))
