"""What makes the folder of an edition a site: a manifest to install it by, icons, and a service worker that keeps it for use offline."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Mapping
from functools import cache

from PIL import Image, ImageDraw

from cardwright.render.html import Pages

ICONS = (192, 512)  # px: what browsers ask of a site that is installed
KEPT = (".html", ".png", ".webmanifest")


def site(pages: Pages, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """The site's own files. The sum of what is kept of the pages in ``files`` is the worker's version: a new build is fetched whole."""
    made = {f"icon-{side}.png": icon(side) for side in ICONS} | {"manifest.webmanifest": _manifest(pages)}
    kept = {name: data for name, data in sorted((made | dict(files)).items()) if name.endswith(KEPT) and name != "audit.html"}
    version = _sum(b"".join(_sum(name.encode()) + _sum(data) for name, data in kept.items())).hex()
    cache = f"{pages.digest.removeprefix('sha256:')[:16]}-{version[:16]}"
    worker = pages.fill("worker.js.j2", edition=pages.book.edition.name, version=cache, kept=list(kept))
    return made | {"worker.js": worker.encode()}


def _sum(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def _manifest(pages: Pages) -> bytes:
    spec = pages.book.edition.spec
    told = {
        "name": f"{spec.title} {spec.number}",
        "short_name": spec.title,
        "lang": spec.language,
        "id": "./",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#000000",
        "theme_color": "#000000",
        "icons": [{"src": f"icon-{side}.png", "sizes": f"{side}x{side}", "type": "image/png", "purpose": "any"} for side in ICONS],
    }
    return (json.dumps(told, ensure_ascii=False, indent=1) + "\n").encode()


@cache
def icon(side: int) -> bytes:
    """A chart of four by four cells, one of them marked, as PNG."""
    image = Image.new("1", (side, side), 1)
    draw = ImageDraw.Draw(image)
    edge, line = side // 8, side // 32
    step = (side - 2 * edge) // 4
    for n in range(5):
        at = edge + n * step
        draw.rectangle((edge, at, edge + 4 * step, at + line), fill=0)
        draw.rectangle((at, edge, at + line, edge + 4 * step + line), fill=0)
    draw.rectangle((edge + 2 * step, edge + step, edge + 3 * step, edge + 2 * step), fill=0)
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


def reloading(pages: Pages, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """The files of a trial, whose pages load themselves again once another one stands there; ``made.js`` tells which one does."""
    made = _sum(b"".join(_sum(data) for name, data in sorted(files.items()) if name.endswith(".html"))).hex()[:16]
    told = {}
    for name, data in files.items():
        script = pages.fill("again.js.j2", made=made, up="../" * name.count("/"))
        before, end, after = data.rpartition(b"</body>") if name.endswith(".html") else (data, b"", b"")
        told[name] = before + (f"<script>{script}</script>\n".encode() if end else b"") + end + after
    return told | {"made.js": f'cardsMade("{made}");\n'.encode()}
