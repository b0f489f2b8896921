"""The plain script: what a competent user writes from general-purpose libraries.

Usage: `python plain_script.py PICTURE OUT --colours 6 --width-mm 500`. It smooths with a median
filter, finds the colours by k-means (on a sample of the pixels unless told otherwise),
takes the contours of each colour, simplifies them, and writes one DXF layer per colour and a table
of areas.
"""

import argparse
import csv
from pathlib import Path

import cv2
import ezdxf
import numpy as np
from ezdxf import colors, units
from shapely import Polygon, make_valid

SAMPLE = 200_000
MEDIAN_PX = 5
SIMPLIFY_PX = 1.0
SMALLEST_PX2 = 9.0


def quantise(image, count, all_pixels):
    """Return the palette (BGR) and each pixel's index in it."""
    pixels = image.reshape(-1, 3)
    if not all_pixels:
        pixels = pixels[np.random.default_rng(0).integers(0, len(pixels), SAMPLE)]
    sample = pixels.astype(np.float32)
    cv2.setRNGSeed(0)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.5)
    _, _, centres = cv2.kmeans(sample, count, None, stop, 3, cv2.KMEANS_PP_CENTERS)
    labels = np.zeros(image.shape[:2], np.uint8)
    best = np.full(image.shape[:2], np.inf, np.float32)
    for index, centre in enumerate(centres):
        away = image.astype(np.float32) - centre
        distance = np.einsum("ijk,ijk->ij", away, away)
        nearer = distance < best
        labels[nearer], best[nearer] = index, distance[nearer]
    return centres, labels


def regions(mask):
    """Return the polygons of a mask, holes included, in pixels."""
    rings, tree = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    simple = [cv2.approxPolyDP(ring, SIMPLIFY_PX, True)[:, 0] + 0.5 for ring in rings]
    found = []
    for index, ring in enumerate(simple):
        if tree[0][index][3] >= 0 or len(ring) < 3:
            continue
        holes, child = [], tree[0][index][2]
        while child >= 0:
            if len(simple[child]) > 2:
                holes.append(simple[child])
            child = tree[0][child][0]
        shape = make_valid(Polygon(ring, holes))
        parts = getattr(shape, "geoms", [shape])
        found += [p for p in parts if p.geom_type == "Polygon" and p.area > SMALLEST_PX2]
    return found


def convert(picture, out, count, width_mm, all_pixels=False):
    """Write regions.dxf and areas.csv into the folder."""
    image = cv2.medianBlur(cv2.imread(str(picture)), MEDIAN_PX)
    palette, labels = quantise(image, count, all_pixels)
    height, width = labels.shape
    scale = width_mm / width
    drawing = ezdxf.new("R2010", units=units.MM)
    space = drawing.modelspace()
    rows = []
    for index, (blue, green, red) in enumerate(palette):
        layer = f"COLOUR_{index + 1}"
        value = (round(float(red)), round(float(green)), round(float(blue)))
        drawing.layers.add(layer, true_color=colors.rgb2int(value))
        shapes = regions((labels == index).astype(np.uint8))
        for shape in shapes:
            for ring in [shape.exterior, *shape.interiors]:
                points = [(x * scale, (height - y) * scale) for x, y in ring.coords[:-1]]
                space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
        area = sum(shape.area for shape in shapes) * scale**2
        rows.append([layer, "#{:02x}{:02x}{:02x}".format(*value), round(area, 3), len(shapes)])
    out.mkdir(parents=True, exist_ok=True)
    drawing.saveas(out / "regions.dxf")
    with open(out / "areas.csv", "w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([["layer", "hex", "area_mm2", "regions"], *rows])


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("picture", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--colours", type=int, default=6)
    parser.add_argument("--width-mm", type=float, default=500.0)
    parser.add_argument("--all-pixels", action="store_true", help="k-means on every pixel")
    options = parser.parse_args()
    convert(options.picture, options.out, options.colours, options.width_mm, options.all_pixels)
