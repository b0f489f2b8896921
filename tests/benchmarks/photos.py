"""Measures photos of flat drawings and of line drawings, from the camera to the traced regions.

    python -m tests.benchmarks.photos --count 200 --drawings 40 --megapixels 12 --records out.jsonl

Each photo shows a drawing on paper, on wood, cloth or a dark table, under soft, hard or no shadow.
A line is printed for each as it is done, the table at the end; `--records` keeps all figures, and
pictures that it holds already are not done again.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.benchmarks.photo_measures import Record, measure_flat, measure_lines, view_size

# Over this an answer that is called sure counts as confidently wrong.
WRONG_PX = 40.0
PLACES = ("median", "mean", "p95", "p99", "largest")


def main() -> None:
    """Measure, print a line a picture, then the table."""
    options = _options()
    size_px = view_size(options.megapixels)
    kept = _kept(options.records)
    wanted = [("flat", n) for n in range(options.first, options.first + options.count)]
    wanted += [("lines", n) for n in range(options.first, options.first + options.drawings)]
    for kind, number in wanted:
        if (kind, number) not in kept:
            measure = measure_flat if kind == "flat" else measure_lines
            kept[kind, number] = measure(number, size_px) | {"kind": kind}
            _keep(options.records, kept[kind, number])
            print(one_line(kept[kind, number]), flush=True)
    print("\n".join(report([kept[key] for key in wanted])))


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=0, help="number of the first photo")
    parser.add_argument("--count", type=int, default=200, help="photos of flat drawings")
    parser.add_argument("--drawings", type=int, default=40, help="photos of line drawings")
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--records", type=Path, help="file of figures, one line a picture")
    return parser.parse_args()


def _kept(path: Path | None) -> dict[tuple[str, int], Record]:
    if path is None or not path.exists():
        return {}
    records = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return {(record["kind"], record["number"]): record for record in records}


def _keep(path: Path | None, record: Record) -> None:
    if path is not None:
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(record) + "\n")


def one_line(record: Record) -> str:
    """Return the figures of a picture in one line."""
    words = [
        f"{record['kind']} {record['number']} ({record['scene']})",
        f"corners {record['corner_px']:.1f} px, {record['confidence']:.2f} sure",
    ]
    if record["kind"] == "flat":
        found, true = record["colours"]
        words.append(f"{record['way']}: {found} of {true}, paper {record['paper_dE']:.1f} dE")
        words.append("islands {} missed {} invented of {}".format(*record.get("islands", "???")))
    else:
        words.append("{}: {} of {} cells".format(record["way"], *record["cells"]))
        words.append("right" if record["right"] else "WRONG")
    for name in ("seen_px", "laid_px"):
        if name in record:
            words.append(name[:4] + " " + "/".join(f"{v:.2f}" for v in record[name]))
    return "; ".join([*words, f"{sum(record['seconds'].values()):.1f} s"])


def report(records: list[Record]) -> Iterator[str]:
    """Yield the lines of the table."""
    flat = [record for record in records if record["kind"] == "flat"]
    lines = [record for record in records if record["kind"] == "lines"]
    for name, group in (("all", records), ("flat", flat), ("lines", lines)):
        if group:
            yield f"{name}: {len(group)} pictures"
            yield from _corners(group)
    if flat:
        yield from _colours(flat)
        yield from _edges("flat drawings", flat)
    if lines:
        share = 100 * np.mean([record["right"] for record in lines])
        yield f"drawings with every cell and no other: {share:.1f} %"
        yield from _edges("line drawings", lines)


def _corners(records: list[Record]) -> Iterator[str]:
    errors = np.array([record["corner_px"] for record in records])
    sure = np.array([record["sure"] for record in records])
    near, wrong = 100 * np.mean(errors <= 4), int(np.sum(sure & (errors > WRONG_PX)))
    yield f"  corners within 4 px {near:.1f} %, median error {np.median(errors):.2f} px"
    yield f"  sure {100 * sure.mean():.1f} %, sure and wrong {wrong}"


def _colours(records: list[Record]) -> Iterator[str]:
    right = [record["colours"][0] == record["colours"][1] for record in records]
    yield f"  number of colours right {100 * np.mean(right):.1f} %"
    for name in ("paper_dE", "dE"):
        values = [record[name] for record in records]
        yield f"  {name}: median {np.median(values):.2f}, largest {max(values):.2f}"
    found = [record["islands"] for record in records if "islands" in record]
    missed, invented, count = np.sum(found, axis=0)
    yield f"  islands: {missed} missed, {invented} invented of {count}"


def _edges(name: str, records: list[Record]) -> Iterator[str]:
    for key in ("seen_px", "laid_px"):
        rows = np.array([record[key] for record in records if key in record])
        yield f"{name}, boundary error {key[:4]}, {len(rows)} pictures (median picture; worst)"
        for place, column in zip(PLACES, rows.T, strict=True):
            yield f"  {place:8} {np.median(column):7.3f} {column.max():8.3f}"
    steps = [record["seconds"] for record in records]
    for step in steps[0]:
        values = [one[step] for one in steps]
        yield f"  {step:10} {np.median(values):6.2f} s CPU, most {max(values):.2f}"


if __name__ == "__main__":
    main()
