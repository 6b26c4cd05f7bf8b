"""Router: every face of the demonstration print, from its shapes to programs that are proven, and how fast.

``python -m bench.router FOLDER`` prints the same for the faces of any print folder that is made up to its
blocks, with the bits and the machine that a shelf begins with.
"""

import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely
from pydantic import TypeAdapter

from bench.child import peak_bytes
from bench.figures import Row, Section, at_most, table
from bench.workshop import GIGA, MEGA, Workshop
from blockwright import project
from blockwright.bits import chosen_routers, first_routers
from blockwright.cutting import plan_cuts
from blockwright.cutting.ground import Tool
from blockwright.cutting.proving import check_program
from blockwright.cutting.reaching import SLACK_MM
from blockwright.cutting.reading_program import read_program
from blockwright.cutting.routed import routing_of, set_up, wanted_of
from blockwright.cutting.routing import route_face
from blockwright.cutting.wanted import Floor
from blockwright.decisions import read_decisions
from blockwright.documents.program import ProgramFacts, write_program
from blockwright.model.blocks import BlockSet
from blockwright.model.units import Area
from blockwright.router_steps import MARK_EXTRA_MM

PATHS_S = 10.0
DEEP_PERCENT = 99.0
MARKS_MM = 0.05
RATIO = 1.35
MOVES_S = 0.25
CELL_MM = 0.1
PEAK_GB = 3.0


def route_all(*, folder: str, make: bool = True) -> dict[str, Any]:
    """Route every face of a print, one after the other, and prove its programs; seconds and figures."""
    place = Path(folder)
    if make:
        project.create_demo(place)
        project.make(place, upto="blocks")
    settings = read_decisions(place)
    value = (place / "out" / "blocks" / "value.json").read_bytes()
    blocks: BlockSet = TypeAdapter(BlockSet).validate_json(value)
    table = settings.cutting.model_copy(update={"method": "router", "face": ()})
    cut, shelf = plan_cuts(blocks, table), first_routers()
    boards = {face.name: board for board in blocks.boards for face in board.faces}
    told: list[dict[str, Any]] = []
    # The first face is done twice: what is compiled is loaded then.
    pairs = list(zip(blocks.faces, cut.faces, strict=True))
    for face, face_cut in [pairs[0], *pairs]:
        board = boards[face.name]
        depth = max((kento.depth_mm for kento in blocks.marks_of(face)), default=0.0)
        bench = set_up(board, depth + MARK_EXTRA_MM, table, *chosen_routers(shelf, table.router))
        left, top, right, bottom = blocks.as_on(face).block.bounds
        facts = ProgramFacts("bench", face.name, board.wood, right - left, bottom - top, board.thickness_mm)
        began = time.perf_counter()
        routed = route_face(blocks, face, face_cut.clear, bench.tools, bench.manner)
        wanted = wanted_of(blocks, face, board, face_cut, bench)
        runs = [wanted.lying.on_machine(run) for run in routed.runs]
        programs = write_program(runs, bench.machine, facts)
        paths_s = time.perf_counter() - began
        began = time.perf_counter()
        proof = check_program([each.text for each in programs], wanted, bench.bits, bench.machine)
        proof_s = time.perf_counter() - began
        read = [(read_program(each.text), tuple(bit.name for bit in each.bits), "") for each in programs]
        routing = routing_of(face, board, bench, routed, proof, read, (), table)
        changes_min = (len(programs) - 1) * bench.machine.change_s / 60.0
        told.append(
            {
                "face": face.name,
                "paths_s": paths_s,
                "proof_s": proof_s,
                "moves": proof.moves,
                "gouge_mm2": proof.gouge_mm2,
                "deep_percent": routing.deep_percent,
                "marks_off_mm": routing.marks_off_mm,
                "router_min": routing.router_min,
                "changes_min": changes_min,
                "lower_bound_min": routing.lower_bound_min,
                "beside_min": routed.beside_s / 60.0 + _tops_min(face_cut.clear, routed.floor, bench.tools),
                "hand_mm2": float(routing.hand.area),
            }
        )
    return {"faces": told[1:], "peak_bytes": peak_bytes()}


def _tops_min(clear: Area, floor: Floor, tools: Sequence[Tool]) -> float:
    """What the lower bound holds for the very tops of walls, of which no depth is asked within the slack."""
    narrow_mm = SLACK_MM / floor.slope + CELL_MM / 2.0
    tops_mm2 = clear.area - shapely.buffer(clear, -narrow_mm).area
    vees = [tool.steps.over_mm * tool.speeds.feed_mm_min for tool in tools if tool.bit.kind == "V"]
    return float(tops_mm2 / max(vees))


def simulate_busy() -> dict[str, Any]:
    """The simulation alone, on a face full of moves."""
    from bench.router_steps import simulate_face

    return simulate_face(repeats=3)


def router_section(workshop: Workshop) -> Section:
    """Paths and proof on the demonstration print, and the simulation on a busier face."""
    told = workshop.step("router.route_all", folder=str(workshop.folder / "routed")).told
    busy = workshop.step("router.simulate_busy").told
    faces = told["faces"]
    worst = max(faces, key=lambda each: each["paths_s"])
    whole = sum(each["router_min"] for each in faces)
    changes = sum(each["changes_min"] for each in faces)
    bound = sum(each["lower_bound_min"] for each in faces)
    deep = min(each["deep_percent"] for each in faces)
    moves_s = busy["moves_per_s"]["simulate"] / MEGA
    ratio = (whole - changes) / bound
    gouge = sum(each["gouge_mm2"] for each in faces)
    longest = max(faces, key=_ratio)
    floors = [_ratio(each, without=each["beside_min"]) for each in faces]
    good = sum(_ratio(each) <= RATIO for each in faces)
    rows = (
        Row(
            "wood that stays and is cut, all faces",
            f"{gouge:.3f} mm2",
            "0 mm2",
            gouge == 0.0,
        ),
        Row(
            "of what the bits reach, deep enough; the worst face",
            f"{deep:.2f} %",
            f"{DEEP_PERCENT:g} % or more",
            deep >= DEEP_PERCENT,
        ),
        at_most(
            "marks off their place, the worst",
            max(e["marks_off_mm"] for e in faces),
            most=MARKS_MM,
            unit="mm",
            digits=3,
        ),
        at_most(
            f"paths and programs of a face, the slowest ({worst['face']})",
            worst["paths_s"],
            most=PATHS_S,
            unit="s",
        ),
        Row(
            "router time, all faces, without changing bits",
            f"{whole - changes:.0f} min",
            f"{RATIO:g} times the lower bound, or less",
            ratio <= RATIO,
            f"the lower bound, {bound:.0f} min; {changes:.0f} min more for changing bits",
            f"{ratio:.2f} of it",
        ),
        at_most(
            f"and of the face where it is longest against its bound ({longest['face']})",
            _ratio(longest),
            most=RATIO,
            unit="of it",
            beside=f"the target; {good} of {len(faces)} faces meet it",
        ),
        Row(
            "simulation of a busy face of 400 x 300 mm",
            f"{moves_s:.2f} million moves a second",
            f"{MOVES_S:g} or more",
            moves_s >= MOVES_S,
        ),
        at_most("peak memory", max(told["peak_bytes"] / GIGA, busy["peak_gb"]), most=PEAK_GB, unit="GB"),
    )
    return Section(
        "router",
        "Router",
        (
            "Every face of the demonstration print with the bits and the machine that a shelf begins with, "
            "in one process, one face after the other. The lower bound clears every spot with the largest "
            "bit that reaches it, at full feed, without a single detour: all of the waste to its edges, the "
            "marks' recesses, and the rim once round. It knows no corners, at which a machine of 300 mm/s2 "
            "nearly stops. Against the floors alone, without the tops of walls, marks and rim, which were "
            f"left out of it until November 2026, the worst face takes {max(floors):.2f} times as long, and "
            f"{sum(each <= RATIO for each in floors)} of {len(faces)} faces meet {RATIO:g}.",
        ),
        rows,
        (faces_table(faces),),
    )


def _ratio(face: dict[str, Any], *, without: float = 0.0) -> float:
    """Router time without changing bits, over the lower bound less some minutes."""
    return float((face["router_min"] - face["changes_min"]) / (face["lower_bound_min"] - without))


def faces_table(faces: list[dict[str, Any]]) -> str:
    """One line for each face."""
    head = [
        "face",
        "moves",
        "paths s",
        "proof s",
        "gouge mm2",
        "deep %",
        "marks mm",
        "router min",
        "bound min",
        "times",
        "times floors alone",
        "left to the hand mm2",
    ]
    return table(
        head,
        [
            [
                each["face"],
                str(each["moves"]),
                f"{each['paths_s']:.2f}",
                f"{each['proof_s']:.2f}",
                f"{each['gouge_mm2']:.3f}",
                f"{each['deep_percent']:.2f}",
                f"{each['marks_off_mm']:.3f}",
                f"{each['router_min'] - each['changes_min']:.1f}",
                f"{each['lower_bound_min']:.1f}",
                f"{_ratio(each):.2f}",
                f"{_ratio(each, without=each['beside_min']):.2f}",
                f"{each['hand_mm2']:.1f}",
            ]
            for each in faces
        ],
    )


if __name__ == "__main__":
    print(faces_table(route_all(folder=sys.argv[1], make=False)["faces"]))
