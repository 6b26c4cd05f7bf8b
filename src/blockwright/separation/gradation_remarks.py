"""What is said about gradations: runs that no ink of ours follows, and ways of printing that cannot be."""

from collections.abc import Mapping, Sequence

from blockwright.model.axis import Way
from blockwright.model.findings import Finding
from blockwright.separation.gradations import ends_as_paper
from blockwright.separation.plan import Coloured, Planned

FAR_OFF_DELTA_E00 = 6.0
"""A run that is missed by more than this somewhere is pointed out [CP]."""

_ASKED: Mapping[Way | None, str] = {
    None: "Give it other ends or another ramp",
    "one ink": "By one ink, as asked for, it cannot be followed: let it be printed as fits, "
    "give it other ends",
    "over a flat": "Over a flat, as asked for, it cannot be followed: let it be printed as fits, "
    "give it other ends",
    "futa-iro": "As futa-iro, as asked for, it cannot be followed: let it be printed as fits, "
    "give it other ends",
}
"""What to do about a run that is missed, by how the printmaker wants it printed."""


def gradation_findings(work: Coloured, planned: Sequence[Planned], *, within: float) -> list[Finding]:
    """One finding for each colour whose run is missed by far, or that cannot be printed as asked.

    ``within`` is how near to the paper (CIEDE2000) an end counts as bare paper.
    """
    findings: list[Finding] = []
    told: set[int] = set()
    for each in planned:
        colour = int(work.colour[each.shapes[0]])
        if each.gradation is None or colour in told:
            continue
        told.add(colour)
        run, name, place = work.run(colour), work.design.palette[colour].name, work.place(colour)
        way = None if run is None else run.printed
        about = (("colour", name), ("way", way or ""))
        no_second = run is not None and ends_as_paper(run, work.design.paper_hex, within)
        if no_second and way in ("over a flat", "futa-iro"):
            asked, rest = ("over a flat", "flat") if way == "over a flat" else ("as futa-iro", "second ink")
            message = (
                f"{name[:1].upper()}{name[1:]} is to be printed {asked}, but it ends as bare paper, which "
                f"leaves no {rest} to print: one ink thins to nothing. Give it another end, or let it be "
                "printed as fits."
            )
            findings.append(Finding("gradation-way", "warn", message, place, about))
        if each.gradation.worst_delta_e00 > FAR_OFF_DELTA_E00:
            message = (
                f"The gradation of {name} is missed by up to {each.gradation.worst_delta_e00:.1f} "
                f"(CIEDE2000) along its way. {_ASKED[None if no_second else way]}, or make it flat."
            )
            findings.append(Finding("gradation-off", "warn", message, place, about))
    return findings
