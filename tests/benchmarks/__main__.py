"""Measure img2pour: `python -m tests.benchmarks [PART ...] [options]`; prints Markdown."""

import argparse
from collections.abc import Callable, Iterator

from tests.benchmarks.tables import header


def _accuracy(options: argparse.Namespace) -> str:
    from tests.benchmarks import accuracy

    return accuracy.report([size for size in options.sizes if size <= 12], options.seeds)


def _colours(options: argparse.Namespace) -> str:
    from tests.benchmarks import colour_number

    return colour_number.report(options.palettes)


def _speed(options: argparse.Namespace) -> Iterator[str]:
    from tests.benchmarks import speed

    yield from speed.report(options.sizes, options.runs)
    yield "\n" + speed.in_process(max(options.sizes))


def _carving(options: argparse.Namespace) -> str:
    from tests.benchmarks import carving

    return carving.report()


def _check(options: argparse.Namespace) -> str:
    from tests.benchmarks import check_speed

    return check_speed.report(options.runs)


def _imports(options: argparse.Namespace) -> str:
    from tests.benchmarks import speed

    return speed.imports(options.runs)


def _page(options: argparse.Namespace) -> str:
    from tests.benchmarks import page

    return page.report(options.runs)


PARTS: dict[str, Callable[[argparse.Namespace], str | Iterator[str]]] = {
    "accuracy": _accuracy,
    "colours": _colours,
    "speed": _speed,
    "carving": _carving,
    "check": _check,
    "imports": _imports,
    "page": _page,
}


def main() -> None:
    """Print the chosen parts, all of them by default."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--sizes", type=int, nargs="+", default=[1, 12], help="1, 12, 48 (MP)")
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    parser.add_argument("--runs", type=int, default=5, help="timed runs of each program")
    parser.add_argument("--palettes", type=int, default=40)
    options = parser.parse_args()
    unknown = set(options.parts) - set(PARTS)
    if unknown:
        parser.error(f"unknown part {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    print(header(), flush=True)
    for name in options.parts or PARTS:
        made = PARTS[name](options)
        print(flush=True)
        for text in (made,) if isinstance(made, str) else made:
            print(text, flush=True)


if __name__ == "__main__":
    main()
