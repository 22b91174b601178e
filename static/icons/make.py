"""Draws the PNG icons from the one mark, with the Chromium that Playwright finds.

Run by hand after a change to lintel.svg:  python static/icons/make.py [path of a Chromium]
"""

import re
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

HERE = Path(__file__).resolve().parent
PAPER = "#faf6ee"
# name, size in pixels, share of the side the mark takes, rounded corners
SIZES = [
    ("lintel-192.png", 192, 1.0, True),
    ("lintel-512.png", 512, 1.0, True),
    ("lintel-maskable-512.png", 512, 0.8, False),
    ("apple-touch-180.png", 180, 0.92, False),
    ("shortcut-96.png", 96, 1.0, True),
]


def markup(size: int, share: float, rounded: bool) -> str:
    """A page that shows the mark alone; square and filled to the edge unless rounded."""
    svg = (HERE / "lintel.svg").read_text("utf-8")
    svg = re.sub(r'rx="112"', 'rx="112"' if rounded else 'rx="0"', svg)
    side = round(size * share)
    ground = "transparent" if rounded else PAPER
    style = f"margin:0;width:{size}px;height:{size}px;display:grid;place-items:center;background:{ground}"
    return f'<body style="{style}">{svg.replace("<svg ", f"<svg width={side} height={side} ", 1)}</body>'


def main(chromium: str | None = None) -> None:
    """Writes every size beside this file."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium)
        for name, size, share, rounded in SIZES:
            page = browser.new_page(viewport={"width": size, "height": size})
            page.set_content(markup(size, share, rounded))
            page.screenshot(path=HERE / name, omit_background=rounded)
            page.close()
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
