"""How often the number of colours is found by itself, and how true the colours are."""

import numpy as np

from img2pour.palette import find_palette
from img2pour.picture import read_picture
from tests.art.bench import assorted
from tests.art.degrade import STATES
from tests.art.known import Rgb
from tests.benchmarks.tables import table
from tests.colours import ciede2000, lab, palette_errors

SIZE = (900, 600)
LEAST_DIFFERENCE = 15.0
WANTED = {"clean": ("98 %", 0.3), "scan": ("95 %", 1.5), "noisy": ("95 %", 1.0)}


def random_palette(count: int, seed: int) -> tuple[Rgb, ...]:
    """Return colours that differ by CIEDE2000 of LEAST_DIFFERENCE or more from each other."""
    rng = np.random.default_rng(seed)
    chosen = [rng.integers(0, 256, 3)]
    while len(chosen) < count:
        new = rng.integers(0, 256, 3)
        away = ciede2000(lab(new.astype(float)), lab(np.array(chosen, float)))
        if away.min() >= LEAST_DIFFERENCE:
            chosen.append(new)
    return tuple((int(r), int(g), int(b)) for r, g, b in chosen)


def report(palettes: int) -> str:
    """Return the table over palettes of 2 to 9 colours."""
    right: dict[str, list[bool]] = {state: [] for state in STATES}
    errors: dict[str, list[float]] = {state: [] for state in STATES}
    for seed in range(palettes):
        art = assorted(*SIZE, seed, random_palette(2 + seed % 8, seed))
        picture = art.render()
        for state, degrade in STATES.items():
            palette = find_palette(read_picture(degrade(picture, seed)), "auto")
            found = np.array([colour.rgb for colour in palette.colours], float)
            right[state].append(len(found) == len(art.palette))
            errors[state] += list(palette_errors(found, np.array(art.palette, float)))
    rows = [
        [
            state,
            f"{100 * np.mean(right[state]):.0f} % of {len(right[state])}",
            WANTED[state][0],
            f"{np.median(errors[state]):.2f}",
            f"{np.percentile(errors[state], 95):.2f}",
            WANTED[state][1],
        ]
        for state in STATES
    ]
    head = ["picture", "right number", "wanted", "CIEDE2000 median", "p95", "wanted"]
    return "### Colours, random palettes of 2 to 9\n\n" + table(head, rows)
