"""The tracer's front door: a picture and its labels in, a region map of lines and arcs out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.edges import Blended, cracks_across_main_axis, edge_points
from img2pour.plane.fit import fit
from img2pour.plane.noise import arc_noise_px, blended_in_linear_light
from img2pour.plane.placement import place
from img2pour.plane.pose import find_pose
from img2pour.plane.regionmap import FloatArray, RegionMap
from img2pour.plane.settle import ALLOWANCE_PER_NOISE, FitSettings
from img2pour.plane.walk import walk

LEAST_ALLOWANCE_PX, MOST_ALLOWANCE_PX = 0.02, 0.45
"""Rounding to 8 bits alone moves an edge by about the first; a hard staircase is the second."""

TOLERANCE_PER_ALLOWANCE = 3.0


@dataclass(frozen=True, eq=False)
class Traced:
    """The region map in pixels, and how exactly it was drawn.

    Attributes
    ----------
    region_map : RegionMap
    tolerance_px : float
        Greatest distance kept between the outlines and the picture's own edges, noise aside.
    noise_px : float
        Scatter (rms) of the edges' points, the median over the picture.
    linear_light : bool
        True when edges were found to be blended in linear light.
    """

    region_map: RegionMap
    tolerance_px: float
    noise_px: float
    linear_light: bool


def trace(
    rgb: NDArray[np.uint8],
    labels: NDArray[np.uint8],
    palette: FloatArray,
    *,
    blur_px: float = 0.0,
    tolerance_px: float | None = None,
    linear_light: bool = False,
) -> Traced:
    """Trace a label image to a region map of shared lines and arcs, in pixels.

    Parameters
    ----------
    rgb : (H, W, 3) uint8
        The picture, sRGB, from whose blended pixels the edges are placed.
    labels : (H, W) uint8
        Colour index of every pixel, 255 for `outside`; no saddles.
    palette : (K, 3) float64
        Colours, 0 to 255.
    blur_px : float
        Sigma of the picture's blur.
    tolerance_px : float, optional
        A cap on the deviation; without it the picture's own noise decides.
    linear_light : bool
        True where edges are known to be blended in linear light; else the points tell.
    """
    pose = find_pose(labels)
    height, width = labels.shape
    rgb, labels = pose.view(rgb), pose.view(labels)
    walked = walk(labels)
    kept = cracks_across_main_axis(walked)
    picture = Blended(rgb, labels, palette)
    linear = linear_light or blended_in_linear_light(picture, walked, kept)
    edges = edge_points(replace(picture, linear=linear), walked, kept)
    noise = arc_noise_px(edges)
    allowance, tolerance = _allowances(noise, tolerance_px)
    posed = fit(walked, edges, allowance, FitSettings(tolerance, blur_px))
    region_map = place(posed, pose.placement(width, height))
    scatter = float(np.median(noise[noise > 0])) if (noise > 0).any() else 0.0
    return Traced(region_map, tolerance, scatter, linear)


def _allowances(noise: FloatArray, tolerance_px: float | None) -> tuple[FloatArray, float]:
    """Return each arc's share of residuals that is noise, and the greatest deviation."""
    allowance = np.clip(ALLOWANCE_PER_NOISE * noise, LEAST_ALLOWANCE_PX, MOST_ALLOWANCE_PX)
    if tolerance_px is not None:
        return np.minimum(allowance, tolerance_px / TOLERANCE_PER_ALLOWANCE), tolerance_px
    known = allowance[noise > 0]
    typical = float(np.median(known)) if len(known) else LEAST_ALLOWANCE_PX
    return allowance, TOLERANCE_PER_ALLOWANCE * typical
