"""What a worker can do: every order that the server gives, over results that are kept."""

from __future__ import annotations

import time
from collections import OrderedDict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from img2pour.job.build import make_job
from img2pour.job.writing import write_job
from img2pour.picture import look_at_header
from img2pour.preview import PREVIEW_STEPS, is_half_worth_it, preview_of
from img2pour.results import Extent, Result, make_result
from img2pour.steps import Workbench
from img2pour.web.kept import KeptResults
from img2pour.web.views.check import check_view, work_view
from img2pour.web.views.design import design_view, preview_view
from img2pour.web.views.plan import plan_view
from img2pour.web.views.point import Ground, point_view
from img2pour.web.views.source import jpeg_of, source_view
from img2pour.write.folder import write_folder

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.web.worker import Answer

Order = dict[str, Any]
MOST_GROUNDS = 8
JOB_FILE = "job.toml"


class Benches:
    """The workbenches of all jobs, with one store of results.

    Parameters
    ----------
    kept_bytes : int
        Results that stay from order to order.
    """

    def __init__(self, kept_bytes: int) -> None:
        self.kept = KeptResults(kept_bytes)
        self._grounds: OrderedDict[str, Ground] = OrderedDict()
        self._orders = {
            "look": self._look,
            "draw": self._draw,
            "plan": self._plan,
            "check": self._check,
            "output": self._output,
            "tryout": self._tryout,
            "split": self._split,
            "at": self._at,
        }

    def do(self, order: Order, answer: Answer) -> None:
        """Do one order and answer it.

        Raises
        ------
        Img2PourError
            When it cannot be done.
        MemoryError
            When it needs more than there is; nothing is kept then, to make room.
        """
        try:
            self._orders[order["op"]](order, answer)
        except MemoryError:
            self.kept.clear()
            raise
        finally:
            if order["op"] != "at":
                self.kept.trim()

    def _look(self, order: Order, answer: Answer) -> None:
        """Tell the size of a picture from its header alone."""
        width, height = look_at_header(
            Path(order["picture"]),
            max_megapixels=order["max_megapixels"],
            max_megabytes=order["max_mb"],
        )
        answer.end(width_px=width, height_px=height)

    def _draw(self, order: Order, answer: Answer) -> None:
        """Hand over source, preview and design, each as soon as it is there."""
        began = time.perf_counter()
        bench = self._bench(order, answer)
        self._source(bench, order, answer)
        if is_half_worth_it(bench):
            answer.data("preview", preview_view(preview_of(bench, True), bench.job))
        if bench.job.has_size:
            result = self._result(bench, "design", order)
            answer.data("design", design_view(result, bench.get("colours")))
        else:
            answer.data("preview", preview_view(preview_of(bench, False), bench.job))
        answer.end(ran=bench.ran, seconds=time.perf_counter() - began)

    def _source(self, bench: Workbench, order: Order, answer: Answer) -> None:
        """Hand over what straightening did and both pictures, unless they are known already."""
        key = f"{bench.key('light')} {bench.job.photo!r}"
        if order["known"] == key:
            answer.same("source", key)
            return
        view = source_view(bench)
        answer.part("source.jpg", jpeg_of(bench.get("read")), key)
        answer.part("artwork.jpg", jpeg_of(bench.get("light")), key)
        answer.data("source", view, key)

    def _plan(self, order: Order, answer: Answer) -> None:
        bench = self._bench(order, answer)
        answer.data("plan", plan_view(self._result(bench, "planned", order)))
        answer.end(ran=bench.ran)

    def _check(self, order: Order, answer: Answer) -> None:
        bench = self._bench(order, answer)
        result = self._result(bench, "judged", order)
        answer.data("check", check_view(result))
        answer.data("work", work_view(result))
        answer.end(ran=bench.ran)

    def _output(self, order: Order, answer: Answer) -> None:
        """Write the folder that the command line would write for the same job."""
        bench = self._bench(order, answer)
        extent: Extent = "design" if bench.job.output.files == "design" else "all"
        for step in () if extent == "design" else ("plan", "check"):
            bench.get(step)  # one after the other: threads of their own cannot be called back
        result = self._result(bench, extent, order)
        answer.progress.at("write", 0.9)
        files = result.files() | {JOB_FILE: write_job(result.job_to_keep).encode()}
        answer.progress.at("write", 0.97)
        write_folder(Path(order["out"]), files)
        told = [{"name": name, "bytes": len(data)} for name, data in sorted(files.items())]
        answer.end(ran=bench.ran, files=told)

    def _tryout(self, order: Order, answer: Answer) -> None:
        """Tell what a try-out comes to, with a picture of the finished piece."""
        from img2pour.compare import Compared, Tryout, figures_of, rows_of
        from img2pour.outputs import fills_of
        from img2pour.results import ground_colour
        from img2pour.write.pictures import finished_png

        bench = self._bench(order, answer)
        result = self._result(bench, "planned", None)
        tryout = Tryout(order["title"], order["name"], bench.job, Path(order["folder"]))
        row = rows_of([Compared(tryout, figures_of(result), result)])[0]
        design = result.design
        picture = finished_png(
            design.region_map, fills_of(result), result.board, ground=ground_colour(design)
        )
        answer.part("picture", picture)
        hexes = [{"name": c.name, "hex": c.hex, "role": c.role} for c in design.colours]
        answer.end(rows=row, hexes=hexes)

    def _split(self, order: Order, answer: Answer) -> None:
        """Tell the palette in which one colour has become the two that its pixels hold best."""
        from img2pour.colours.parting import parted

        bench = self._bench(order, answer)
        palette = bench.get("colours")
        wanted = parted(bench.get("light"), bench.get("labels"), palette, order["colour"])
        answer.end(palette=[f"{code}={name}" for code, name in wanted])

    def _at(self, order: Order, answer: Answer) -> None:
        """Tell what lies at a point; null where this revision is not worked out here."""
        ground = self._grounds.get(order["id"])
        if ground is None or ground.revision != order["revision"]:
            answer.end(found=None)
            return
        at = order["x_mm"], order["y_mm"]
        answer.end(found=point_view(ground, at, order["stage"]))

    def _bench(self, order: Order, answer: Answer) -> Workbench:
        job: Job = make_job(**order["job"])
        return Workbench(
            PREVIEW_STEPS,
            Path(order["picture"]),
            order["sha256"],
            job,
            Path(order["folder"]),
            answer.progress,
            self.kept,
        )

    def _result(self, bench: Workbench, extent: Extent, order: Order | None) -> Result:
        """Return the result; what `at` needs of it is remembered."""
        result = make_result(bench, extent)
        if order is not None:
            before = self._grounds.pop(order["id"], None)
            planned = result.planned
            if planned is None and before is not None and before.revision == order["revision"]:
                planned = before.planned
            self._grounds[order["id"]] = Ground(
                order["revision"],
                result,
                bench.get("limit").polygons,
                bench.get("size"),
                bench.get("geometry"),
                planned,
            )
            while len(self._grounds) > MOST_GROUNDS:
                self._grounds.popitem(last=False)
        return result
