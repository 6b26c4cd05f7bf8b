"""What ``out/STAGE/STAGE.json`` tells other programs: figures by name with units, findings, and the parts.

And what the shelf tells them of its pigments and inks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import Cut, FaceCut
from blockwright.model.design import Design, Tracing
from blockwright.model.findings import Finding
from blockwright.model.gradation_words import gradation_sentence
from blockwright.model.inks import PASTE, MixedInk, PrintInk, PrintInks, Recipe
from blockwright.model.leaf import Laying
from blockwright.model.proof import Proof
from blockwright.model.registration import RegistrationBoard
from blockwright.model.separation import Impression, Separation
from blockwright.model.shelf import ShelfBit, ShelfMachine, ShelfPigment

Told = dict[str, Any]


def findings_told(findings: Sequence[Finding]) -> list[Told]:
    """Findings as plain values; ``at`` is a place in mm or None, ``about`` a table of names and values."""
    return [
        {**asdict(f), "at": list(f.at) if f.at is not None else None, "about": dict(f.about)}
        for f in findings
    ]


def tell_tracing(tracing: Tracing) -> Told:
    """The shapes as traced, before hand edits: the colours that the picture gave."""
    return {
        "figures": {"colours": len(tracing.palette), "shapes": len(tracing.shapes)},
        "findings": findings_told(tracing.findings),
        "palette": list(tracing.palette),
    }


def tell_design(design: Design) -> Told:
    """The design: size, palette, and how true the shapes are."""
    return {
        "figures": {
            "colours": len(design.palette),
            "shapes": len(design.shapes),
            "width_mm": design.width_mm,
            "height_mm": design.height_mm,
            "pixels_per_mm": design.pixels_per_mm,
            "coverage_valid": design.coverage_valid,
            "gap_mm2": design.gap_mm2,
            "overlap_mm2": design.overlap_mm2,
            "median_delta_e00": design.median_delta_e00,
            "lost_percent": design.lost_percent,
        },
        "findings": findings_told(design.findings),
        "palette": [
            {
                "name": colour.name,
                "hex": colour.srgb_hex,
                "lab": list(colour.lab),
                "area_mm2": sum(s.region.area for s in design.shapes if s.colour == k),
                "shapes": sum(s.colour == k for s in design.shapes),
            }
            for k, colour in enumerate(design.palette)
        ],
        "runs": [
            {"colour": design.palette[k].name, **asdict(run)}
            for k, run in sorted({s.colour: s.run for s in design.shapes if s.run is not None}.items())
        ],
        "shapes": [
            {
                "at": list(shape.at),
                "colour": design.palette[shape.colour].name,
                "area_mm2": shape.region.area,
                "runs": shape.run is not None,
            }
            for shape in design.shapes
        ],
    }


def tell_gradations(separation: Separation, design: Design) -> list[Told | None]:
    """How each impression is brushed out, in numbers and as a sentence; None for a flat one.

    ``at`` lies in its largest shape, and ``run`` are the ends of that shape's run: what a hand edit names.
    """
    return [_gradation(each, design) for each in separation.impressions]


def _gradation(impression: Impression, design: Design) -> Told | None:
    gradation = impression.gradation
    if gradation is None:
        return None
    shapes = [design.shapes[k] for k in impression.shapes]
    largest = max(shapes, key=lambda shape: float(shape.region.area))
    axis = gradation.axis if largest.run is None else largest.run.axis
    size = {"width_mm": design.width_mm, "height_mm": design.height_mm}
    return {
        **asdict(gradation),
        "full_mm": gradation.full_mm,
        "gone_mm": gradation.gone_mm,
        "sentence": gradation_sentence(gradation, **size),
        "at": list(largest.at),
        "run": {
            "start": list(axis.start),
            "end": list(axis.end),
            "along_edge": bool(axis.edge) and axis.middle is None,
            "round": None if axis.middle is None else list(axis.middle),
        },
        "printed": None if largest.run is None else largest.run.printed,
    }


def tell_separation(
    separation: Separation, passes_hex: Sequence[Sequence[str]], gradations: Sequence[Told | None]
) -> Told:
    """The impressions in printing order; ``passes_hex`` gives each one's colours after one pass and more."""
    return {
        "figures": {
            "impressions": len(separation.impressions),
            "blocks_needed": separation.blocks,
            "median_delta_e00": separation.median_delta_e00,
            "max_delta_e00": separation.max_delta_e00,
            "key_line_mm": separation.key.line_mm if separation.key else 0.0,
            "gap_mm2": sum(each.gap_mm2 for each in separation.edges),
        },
        "findings": findings_told(separation.findings),
        "impressions": [
            {**_impression(each), "gradation": graded, "passes_hex": list(hexes), **_meets(each, separation)}
            for each, hexes, graded in zip(separation.impressions, passes_hex, gradations, strict=True)
        ],
        "key": None if separation.key is None else asdict(separation.key),
        "edges": [{**asdict(each), "at": list(each.at)} for each in separation.edges],
        **_overprints(separation),
        "leaf": [_laying(each) for each in separation.layings],
    }


def _laying(laying: Laying) -> Told:
    return {
        "impression": laying.impression,
        "metal": laying.metal.name,
        "side_mm": laying.metal.side_mm,
        "per_book": laying.metal.per_book,
        "must_coat": laying.metal.must_coat,
        "ground_mm2": laying.ground.area,
        "leaves": len(laying.leaves),
        "places": [[list(corner) for corner in each.exterior.coords[:-1]] for each in laying.leaves],
        "lap_mm": laying.lap_mm,
        "turn_deg": laying.turn_deg,
        "grid_mm": laying.grid_mm,
        "fewest_known": laying.fewest_known,
        "proven_fewest": laying.proven,
        "sheets": laying.sheets,
        "leaves_needed": laying.leaves_needed,
        "books": laying.books,
    }


def _overprints(separation: Separation) -> Told:
    """The curve of blocks against colour error and what lies over what; nothing where none was searched."""
    found = separation.overprints
    if found is None:
        return {"curve": [], "overprints": None}
    told = asdict(found)
    return {"curve": told.pop("curve"), "overprints": told}


def tell_inks(inks: PrintInks) -> Told:
    """What each impression is printed with, and how surely."""
    return {
        "figures": {
            "inks": len(inks.inks),
            "mixed": sum(ink.recipe is not None for ink in inks.inks),
            "from_shelf": sum(ink.shelf_number is not None for ink in inks.inks),
            "max_delta_e00": max((ink.delta_e00 for ink in inks.inks), default=0.0),
            "max_uncertainty_delta_e00": max((ink.uncertainty_delta_e00 for ink in inks.inks), default=0.0),
        },
        "findings": findings_told(inks.findings),
        "inks": [_print_ink(ink) for ink in inks.inks],
    }


def _print_ink(ink: PrintInk) -> Told:
    return {
        "impression": ink.impression,
        "name": ink.name,
        "origin": ink.origin,
        "known_by": ink.known_by,
        "shelf_number": ink.shelf_number,
        "recipe": None if ink.recipe is None else tell_recipe(ink.recipe),
        "delta_e00": ink.delta_e00,
        "uncertainty_delta_e00": ink.uncertainty_delta_e00,
        "batch": None if ink.batch is None else asdict(ink.batch),
        "near": [asdict(each) for each in ink.near],
        "cautions": list(ink.cautions),
        "swatches": [
            {
                "ground": each.ground,
                "hex": list(each.srgb_hex),
                "lab": [list(lab) for lab in each.lab],
                "uncertainty_delta_e00": list(each.uncertainty_delta_e00),
            }
            for each in ink.swatches
        ],
    }


def tell_recipe(recipe: Recipe) -> Told:
    """A recipe: its parts in a hundred of the film by volume, paste last, and what is predicted of it."""
    shares = [*((part.pigment, part.share) for part in recipe.parts), (PASTE, recipe.paste_share)]
    return {
        "components": [{"name": name, "parts": round(100.0 * share, 10)} for name, share in shares],
        "passes": recipe.passes,
        "predicted_lab": list(recipe.predicted_lab),
        "predicted_hex": recipe.predicted_hex,
        "delta_e00": recipe.delta_e00,
        "worst_light_delta_e00": recipe.worst_light_delta_e00,
        "uncertainty_delta_e00": recipe.uncertainty_delta_e00,
    }


def _meets(impression: Impression, separation: Separation) -> Told:
    """The names of the impressions that it shares edges with, the longest edge first."""
    names = {each.number: each.name for each in separation.impressions}
    edges = sorted(separation.edges_mm, key=lambda edge: -edge[2])
    return {
        "runs_under": [names[later] for earlier, later, _ in edges if earlier == impression.number],
        "lies_over": [names[earlier] for earlier, later, _ in edges if later == impression.number],
    }


def _impression(impression: Impression) -> Told:
    return {
        "number": impression.number,
        "name": impression.name,
        "kind": impression.kind,
        "ink": None if impression.ink is None else impression.ink.name,
        "hex": impression.srgb_hex,
        "passes": impression.passes,
        "area_mm2": impression.area.area,
        "shapes": len(impression.shapes),
        "trap_mm": impression.trap_mm,
        "colours": list(impression.colours),
        "side": impression.side,
        "split_from": impression.split_from,
    }


def tell_blocks(blocks: BlockSet) -> Told:
    """Boards, faces, and the marks, in mm on the face as the carver sees it.

    ``why`` says how it comes that a face can carry several impressions; for those in ``turned`` the block is
    laid down turned by half, to the marks in ``turned_kento``. ``stock_boards`` tells what each board that is
    sawn up gives, from one of its corners. ``part_block`` is the rectangle of a part block on the face, and
    ``registration_board`` what holds it; its own marks are those of all faces.
    """
    moved = blocks.movement
    return {
        "figures": {
            "boards": len(blocks.boards),
            "faces": len(blocks.faces),
            "faces_lower_bound": blocks.faces_lower_bound,
            "proven_fewest": blocks.proven_fewest,
            "carving_moisture_percent": moved.carving_moisture_percent,
            "printing_moisture_percent": moved.printing_moisture_percent,
            "movement_mm": moved.largest_mm,
            "paper_growth_width_mm": moved.paper_width_mm,
            "paper_growth_height_mm": moved.paper_height_mm,
            "largest_corner_before_mm": moved.largest_corner_mm(left=False),
            "largest_corner_mm": moved.largest_corner_mm(left=True),
            "corner_upper_left_mm": moved.largest_corner_mm(left=True, corner="upper left"),
            "corner_upper_right_mm": moved.largest_corner_mm(left=True, corner="upper right"),
            "corner_lower_left_mm": moved.largest_corner_mm(left=True, corner="lower left"),
            "corner_lower_right_mm": moved.largest_corner_mm(left=True, corner="lower right"),
            "largest_mutual_before_mm": moved.apart_before.apart_mm if moved.apart_before else 0.0,
            "largest_mutual_mm": moved.apart_left.apart_mm if moved.apart_left else 0.0,
            "stock_boards": len(blocks.sawn),
            "full_faces": len(blocks.full_faces),
            "part_blocks": len(blocks.part_faces),
            "shared_faces": sum(len(face.impressions) > 1 for face in blocks.faces),
        },
        "registration_board": _registration(blocks.registration),
        "movement": asdict(moved),
        "findings": findings_told(blocks.findings),
        "boards": [
            {
                "name": board.name,
                "wood": board.wood,
                "stock": board.stock,
                "width_mm": board.width_mm,
                "height_mm": board.height_mm,
                "thickness_mm": board.thickness_mm,
                "grain": board.grain,
                "faces": [_face(face, blocks.as_on(face)) for face in board.faces],
            }
            for board in blocks.boards
        ],
        "stock_boards": [
            {
                "name": sawn.name,
                "stock": sawn.stock,
                "width_mm": sawn.width_mm,
                "height_mm": sawn.height_mm,
                "blocks": [asdict(piece) for piece in sawn.blocks],
            }
            for sawn in blocks.sawn
        ],
        "offcuts": [
            {**asdict(piece), "stock": sawn.stock, "stock_board": sawn.name}
            for sawn in blocks.sawn
            for piece in sawn.offcuts
        ],
    }


def _face(face: Face, blocks: BlockSet) -> Told:
    # A part block lies to the marks of the registration board.
    straight, *turned = (
        {"kagi": list(kento.kagi), "hikitsuke": list(kento.hikitsuke)}
        for kento in blocks.marks_of(face) or (blocks.kento,)
    )
    return {
        "name": face.name,
        "impressions": list(face.impressions),
        "kento": straight,
        "mirrored": face.mirrored,
        "why": face.why or None,
        "turned": list(face.turned),
        "turned_kento": turned[0] if turned else None,
        "part_block": None if face.part is None else list(face.part.bounds),
    }


def _registration(board: RegistrationBoard | None) -> Told | None:
    """The registration board: places of the seats in mm from its lower left corner, right and up."""
    if board is None:
        return None
    left, top, right, bottom = board.outline.bounds
    return {
        "width_mm": right - left,
        "height_mm": bottom - top,
        "sawn": board.sawn,
        "seats": [
            {
                "board": seat.board,
                "face": seat.face,
                "lower_left": list(board.place((seat.block.bounds[0], seat.block.bounds[3]))),
                "corner": list(board.place(seat.corner)),
                "against": list(seat.against),
                "in_the_way": list(seat.in_the_way),
            }
            for seat in board.seats
        ],
    }


def file_name(face: str) -> str:
    """A face's name as a file name."""
    return face.replace(" ", "-")


REGISTRATION_FILES = ("registration-board.pdf", "registration-board.svg")
"""The files that the cutting stage makes for the registration board, where there are part blocks."""


def bench_files(face: str) -> tuple[str, ...]:
    """The files that the cutting stage makes for a face."""
    name = file_name(face)
    return (f"{name}-face-down.pdf", f"{name}-face-up.pdf", f"{name}.dxf", f"{name}.svg")


def tell_cut(cut: Cut, files: Mapping[str, tuple[str, ...]]) -> Told:
    """What is cut on each face; the figures of a router are 0 where none is used."""
    routed = [face.routing for face in cut.faces if face.routing is not None]
    return {
        "figures": {
            "router_min": sum(each.router_min for each in routed),
            "lower_bound_min": sum(each.lower_bound_min for each in routed),
            "gouge_mm2": sum(each.gouge_mm2 for each in routed),
            "hand_min": sum(face.minutes for face in cut.faces),
            "clear_mm2": sum(face.clear_mm2 for face in cut.faces),
            "edge_mm": sum(face.edge_mm for face in cut.faces),
        },
        "findings": findings_told(cut.findings),
        "faces": [_face_told(face, files[face.face]) for face in cut.faces],
    }


def _face_told(face: FaceCut, files: tuple[str, ...]) -> Told:
    routing = face.routing
    told: Told = {
        "face": face.face,
        "method": face.method,
        "files": list(files),
        "minutes": face.minutes if routing is None else routing.router_min,
        "gouge_mm2": 0.0 if routing is None else routing.gouge_mm2,
        "handwork_mm2": face.clear_mm2 if face.method == "hand" else 0.0,
        "shallow_mm2": 0.0 if routing is None else routing.shallow_mm2,
        "moves": 0 if routing is None else routing.moves,
    }
    if routing is not None:
        told |= {
            "handwork_mm2": float(routing.hand.area),
            "hand_min": routing.hand_min,
            "lower_bound_min": routing.lower_bound_min,
            "deep_percent": routing.deep_percent,
            "marks_off_mm": routing.marks_off_mm,
            "deepest_mm": routing.deepest_mm,
            "held_back": routing.held_back,
            "bit_sets": [asdict(each) for each in routing.choices],
        }
    return told


def tell_proof(proof: Proof, predicted_hex: Sequence[str]) -> Told:
    """How near the predicted print comes to the design, shape by shape; ``predicted_hex`` as on a screen."""
    return {
        "figures": {
            "median_delta_e00": proof.median_delta_e00,
            "p95_delta_e00": proof.p95_delta_e00,
            "median_uncertainty_delta_e00": proof.median_uncertainty_delta_e00,
            "register_risk_percent": proof.register_risk_percent,
        },
        "findings": findings_told(proof.findings),
        "shapes": [
            {
                "at": list(shape.at),
                "area_mm2": shape.area_mm2,
                "target_lab": list(shape.target_lab),
                "predicted_lab": list(shape.predicted_lab),
                "predicted_hex": predicted,
                "delta_e00": shape.delta_e00,
                "uncertainty": shape.uncertainty,
                "worst_delta_e00": shape.worst_delta_e00,
            }
            for shape, predicted in zip(proof.shapes, predicted_hex, strict=True)
        ],
    }


def tell_pigment(kept: ShelfPigment) -> Told:
    """A pigment of the shelf; its bands are told apart."""
    pigment = kept.pigment
    return {
        "kind": "pigment",
        "name": pigment.name,
        "colour_index": pigment.colour_index,
        "origin": pigment.origin,
        "source": pigment.source,
        "lightfastness": pigment.lightfastness,
        "hazard": pigment.hazard,
        "density_g_per_ml": pigment.density_g_per_ml,
        "transfer": list(pigment.transfer),
        "on_shelf": kept.on_shelf,
        "notes": kept.notes,
        "retired": kept.retired,
    }


def tell_mixed_ink(ink: MixedInk) -> Told:
    """A mixed ink of the shelf; its bands are told apart."""
    return {
        "kind": "ink",
        "number": ink.number,
        "name": ink.name,
        "parts": [asdict(part) for part in ink.parts],
        "paste_share": ink.paste_share,
        "known_by": ink.known_by,
        "origin": ink.origin,
        "pot_g": ink.pot_g,
        "density_g_per_ml": ink.density_g_per_ml,
        "transfer": list(ink.transfer),
        "made_on": ink.made_on,
        "place": ink.place,
        "notes": ink.notes,
        "used_in": list(ink.used_in),
        "retired": ink.retired,
    }


def tell_bit(kept: ShelfBit) -> Told:
    """A router bit of the shelf."""
    return {"what": "bit", **asdict(kept.bit), "notes": kept.notes, "retired": kept.retired}


def tell_machine(kept: ShelfMachine) -> Told:
    """A router of the shelf."""
    told = asdict(kept.machine)
    return {
        "what": "machine",
        "name": told.pop("name"),
        "travel_mm": list(told.pop("reach_mm")),
        **{key: list(value) if isinstance(value, tuple) else value for key, value in told.items()},
        "notes": kept.notes,
        "retired": kept.retired,
    }
