"""The finished piece as a picture: what shows after the last stage; without stages, the design."""

from __future__ import annotations

from typing import TYPE_CHECKING

from img2pour.design import roles_of
from img2pour.write.pictures import LONGEST_SIDE_PX, PAPER, WOOD_TONE, finished_png, look_png

if TYPE_CHECKING:
    import shapely

    from img2pour.planning import Planned
    from img2pour.results import Result
    from img2pour.write.make_pours import PourNames


def finished_picture(result: Result, longest_side_px: int = LONGEST_SIDE_PX) -> bytes:
    """Return the finished piece as PNG.

    With a plan it is the look after the last stage: corners as the bits round them, colours of one
    resin alike, clear as wet wood.
    """
    design = result.design
    wood = roles_of(design.colours, "wood")
    ground = design.colours[wood[0]].hex if wood else WOOD_TONE
    if result.planned is None:
        fills = [colour.hex for colour in design.colours]
        return finished_png(
            design.region_map, fills, result.board, ground=ground, longest_side_px=longest_side_px
        )
    # Who asks for the design alone does not wait for what plans pours.
    from img2pour.write.make_pours import PourNames

    names = PourNames.of(design.colours, result.planned.hexes, ground)
    shapes, fills = _shown(result.planned, names)
    return look_png(shapes, fills, result.board, ground=ground, longest_side_px=longest_side_px)


def _shown(planned: Planned, names: PourNames) -> tuple[list[shapely.Geometry], list[str]]:
    """Return the shapes that show at the end, what is no part of the piece, and their colours."""
    looks = planned.plan.looks
    shapes, fills = [planned.layout.outside], [PAPER]
    if looks:
        shapes += looks[-1].shapes
        fills += [names.hex(name) for name in looks[-1].names]
    return shapes, fills
