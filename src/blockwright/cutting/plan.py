"""What is cut on every face, by hand or through a stencil, and how long the handwork takes."""

from shapely.geometry import MultiPolygon, box

from blockwright.cutting.waste import find_waste, split_waste
from blockwright.cutting.weeding import mark_for_weeding
from blockwright.model.blocks import BlockSet, Face, Kento
from blockwright.model.cut import Cut, FaceCut
from blockwright.model.findings import Finding
from blockwright.model.settings import CuttingTable
from blockwright.model.units import Region


def plan_cuts(blocks: BlockSet, settings: CuttingTable) -> Cut:
    """Plan the cutting of every face, in the order of the faces, in face coordinates (mm).

    By hand, waste within ``clear_reach_mm`` of a printing edge is cleared and the rest may stay as an
    island [pub: Phillips 1926]. The minutes are the edges, the clearing and the marks at the rates in the
    settings.

    Through a stencil all waste under the sheet is lifted off and blasted, since a stencil leaves no rounded
    shoulders: there are no islands. The stencil stays on the wood outside the sheet and round the marks,
    which are cut by hand afterwards. The minutes are those of the marks alone; how long lifting and
    blasting take has no published figure and is not counted.

    A router clears all waste, or leaves islands as by hand where ``[cutting.router] islands`` allows it.

    A face named twice in the settings takes the later method; a name that no face has is a finding.
    """
    faces = tuple(_plan_face(blocks, face, settings.for_face(face.name)) for face in blocks.faces)
    return Cut(faces=faces, findings=_check_names(blocks, settings))


def _plan_face(blocks: BlockSet, face: Face, settings: CuttingTable) -> FaceCut:
    method = settings.method
    blocks = blocks.as_on(face)
    marks = blocks.marks_of(face)
    waste = find_waste(blocks, face.printing, marks)
    edge_mm = float(face.printing.length)
    minutes = sum(_marks_minutes(kento, settings) for kento in marks)
    if method == "stencil":
        clear, island = waste, MultiPolygon()
        weed, border = mark_for_weeding(waste), _grow(blocks.block, settings.oversize_mm)
    elif method == "router":
        clear, island = waste, MultiPolygon()
        if settings.router.islands:
            clear, island = split_waste(waste, face.printing, reach_mm=settings.clear_reach_mm)
        # The bits cut the marks too; what they leave to the hand is known when their programs are.
        weed, border, minutes = (), None, 0.0
    else:
        clear, island = split_waste(waste, face.printing, reach_mm=settings.clear_reach_mm)
        weed, border = (), None
        minutes += edge_mm / settings.edge_mm_per_min + clear.area / settings.clear_mm2_per_min
    return FaceCut(
        face=face.name,
        method=method,
        impressions=face.impressions,
        printing=face.printing,
        clear=clear,
        island=island,
        weed=weed,
        border=border,
        edge_mm=edge_mm,
        clear_mm2=float(clear.area),
        minutes=float(minutes),
    )


def _marks_minutes(kento: Kento, settings: CuttingTable) -> float:
    """Return the minutes for the marks by hand: their edges all round, and their recesses, at the rates."""
    recesses = (kento.kagi_recess, kento.hikitsuke_recess)
    edge_mm = sum(float(recess.length) for recess in recesses)
    area_mm2 = sum(float(recess.area) for recess in recesses)
    return edge_mm / settings.edge_mm_per_min + area_mm2 / settings.clear_mm2_per_min


def _grow(block: Region, by_mm: float) -> Region:
    left, top, right, bottom = block.bounds
    return box(left - by_mm, top - by_mm, right + by_mm, bottom + by_mm)


def _check_names(blocks: BlockSet, settings: CuttingTable) -> tuple[Finding, ...]:
    names = [face.name for face in blocks.faces]
    unknown = dict.fromkeys(override.face for override in settings.face if override.face not in names)
    return tuple(
        Finding(
            code="face-not-known",
            severity="warn",
            message=f'[[cutting.face]] names the face "{name}", which does not exist; '
            f"the faces are {', '.join(names) or 'none'}. Name one of them, or take the entry out.",
            about=(("face", name),),
        )
        for name in unknown
    )
