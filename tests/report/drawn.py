"""What a drawing holds, read back from its SVG."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

from limbwright.report.text_width import text_width_mm

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Said:
    """Words of a drawing: where they begin and end and how large they are [mm]."""

    text: str
    left: float
    right: float
    base: float
    size: float

    @property
    def box(self) -> tuple[float, float, float, float]:
        return self.left, self.base - 0.75 * self.size, self.right, self.base + 0.2 * self.size


def read(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def size_of(svg: str) -> tuple[float, float]:
    _, _, width, height = (float(one) for one in read(svg).get("viewBox", "").split())
    return width, height


def said(svg: str) -> list[Said]:
    """Return all words, moved as the groups they stand in."""
    out: list[Said] = []

    def walk(one: ET.Element, dy: float) -> None:
        moved = re.fullmatch(r"translate\(0 (\S+)\)", one.get("transform", ""))
        dy += float(moved[1]) if moved else 0.0
        if one.tag == f"{SVG}text":
            text, size = one.text or "", float(one.get("font-size", "0"))
            wide, x = text_width_mm(text, size), float(one.get("x", "0"))
            before = {"middle": wide / 2, "end": wide}.get(one.get("text-anchor", ""), 0.0)
            left = x - before
            out.append(Said(text, left, left + wide, float(one.get("y", "0")) + dy, size))
        for child in one:
            walk(child, dy)

    walk(read(svg), 0.0)
    return out


def of_class(svg: str, tag: str, name: str) -> list[ET.Element]:
    return [one for one in read(svg).iter(f"{SVG}{tag}") if one.get("class") == name]
