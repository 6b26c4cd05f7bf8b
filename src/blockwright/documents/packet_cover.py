"""The packet's cover, and the page of what to look at."""

from functools import partial

from blockwright.documents.packet_content import (
    Packet,
    counted,
    mm_words,
    place_words,
    time_words,
)
from blockwright.documents.packet_frame import (
    CAPTION,
    NAME,
    TEXT,
    TITLE,
    Frame,
    Page,
    dealt,
    fit_picture,
    text_height,
)
from blockwright.documents.sheet import FIRST_BASELINE, HAIRLINE, Pen, Picture, Sheet
from blockwright.documents.type import ACCENT, Rich, Style, bound, broken, fitted, slanted, strong
from blockwright.model.findings import Finding

UPRIGHT_ASPECT = 1.2
"""Pictures narrower than this stand side by side on the cover instead of one above the other."""

_PROOF_SHARE = 0.36
"""How much of the cover's width the proof takes below a wide design, its figures beside it."""

MOST_OF_A_KIND = 6
"""Of each kind of finding so many are listed; more make a list that nobody reads."""

_SEVERITY = {"stop": "Stops the work", "warn": "Look", "note": "To know"}
_EDGE = Pen(0.1, "#8b8272")
_NUMBER = Style("semibold", 9.0, 11.0, ACCENT)


def cover_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the cover, and the list of findings when the cover cannot hold them or they have places."""
    pages: list[Page] = [partial(_draw_cover, packet, frame)]
    if packet.findings:
        pages += _finding_pages(packet, frame)
    return pages


def _figures(packet: Packet) -> list[Rich]:
    """Say the print's figures in sentences."""
    design, blocks, proof = packet.design, packet.blocks, packet.proof
    x0, y0, x1, y1 = blocks.sheet.bounds
    size = bound(f"{mm_words(design.width_mm)} × {mm_words(design.height_mm)} mm")
    paper = bound(f"{mm_words(x1 - x0)} × {mm_words(y1 - y0)} mm")
    impressions = counted(len(packet.separation.impressions), "impression")
    full, part = len(blocks.full_faces), len(blocks.part_faces)
    boards = f"{counted(full, 'face')} of {counted(len(blocks.boards) - part, 'board')}"
    on_parts = f"{counted(part, 'part block')} on a registration board"
    carved = " and ".join([*([boards] if full or not part else []), *([on_parts] if part else [])])
    sentences: list[Rich] = [
        ("The image is ", strong(size), f" on a sheet of {paper}."),
        (
            f"{counted(len(design.palette), 'colour')} in {counted(len(design.shapes), 'shape')}; ",
            strong(impressions),
            f" from {carved}.",
        ),
        (
            "Predicted for the inks of this packet, not measured: by area the print comes within ",
            strong(f"{proof.median_delta_e00:.1f}"),
            " of the design at the median and"
            f" {proof.p95_delta_e00:.1f} over nineteen parts in twenty (ΔE00), give or take "
            f"{proof.median_uncertainty_delta_e00:.0f} for what is not known of the inks.",
        ),
        f"A drift of {packet.settings.proof.drift_mm:g} mm shows at {proof.register_risk_percent:.0f} % "
        "of the edges between colours.",
    ]
    sentences += [
        f"{each.metal.name[:1].upper()}{each.metal.name[1:]} leaf: "
        f"{counted(len(each.leaves), 'leaf', 'leaves')} to a print, "
        f"{counted(each.books, 'book')} for {counted(each.sheets, 'sheet')}."
        for each in packet.separation.layings
    ]
    minutes = sum(each.minutes for each in packet.cut.faces)
    if minutes:
        sentences.append(f"Handwork on the blocks: about {time_words(minutes)} at the rates in print.toml.")
    return sentences


def _draw_cover(packet: Packet, frame: Frame, sheet: Sheet) -> None:
    style = fitted(packet.title, TITLE, frame.measure, lines=2, least=17.0)
    y = sheet.write_lines(
        broken(packet.title, style, frame.measure)[:4], style, frame.left, frame.top, frame.measure
    )
    y = sheet.write("The packet for the bench", CAPTION.scaled(1.3), frame.left, y + 1.0, frame.measure) + 4.0
    aspect = packet.design.width_mm / packet.design.height_mm
    draw = _draw_side_by_side if aspect < UPRIGHT_ASPECT else _draw_stacked
    y = draw(packet, frame, sheet, y)
    _draw_attention(packet, frame, sheet, y + 2.0)


def _draw_stacked(packet: Packet, frame: Frame, sheet: Sheet, top: float) -> float:
    """Draw a wide design across the page, with its proof below it beside the figures."""
    aspect = packet.design.width_mm / packet.design.height_mm
    column = _PROOF_SHARE * frame.measure
    beside = frame.measure - column - 7.0
    figures = sum(text_height(each, TEXT, beside) + 1.6 for each in _figures(packet))
    # Below them stand the captions and at least a line of what to look at.
    below = max(figures, column / aspect) + 2.0 * CAPTION.leading_mm + NAME.leading_mm + TEXT.leading_mm + 7.0
    width, height = fit_picture(aspect, frame.measure, min(116.0, frame.foot - top - below))
    y = _draw_picture(sheet, packet.design_picture, (frame.left, top, width, height), "The design") + 3.0
    width, height = fit_picture(aspect, column, column / aspect)
    end = _draw_picture(
        sheet, packet.proof_picture, (frame.left, y, width, height), "The print, as predicted"
    )
    text = _write_all(sheet, _figures(packet), frame.right - beside, y - 1.2, beside)
    return max(end, text)


def _draw_side_by_side(packet: Packet, frame: Frame, sheet: Sheet, top: float) -> float:
    """Draw an upright design and its proof side by side, and the figures below."""
    aspect = packet.design.width_mm / packet.design.height_mm
    column = (frame.measure - 7.0) / 2
    width, height = fit_picture(aspect, column, 122.0)
    end = top
    for picture, x, words in (
        (packet.design_picture, frame.left, "The design"),
        (packet.proof_picture, frame.right - column, "The print, as predicted"),
    ):
        end = _draw_picture(sheet, picture, (x, top, width, height), words)
    return _write_all(sheet, _figures(packet), frame.left, end + 3.0, frame.measure)


def _draw_picture(
    sheet: Sheet, picture: Picture, box: tuple[float, float, float, float], words: str
) -> float:
    sheet.picture(picture, *box)
    x, y, width, height = box
    sheet.box(x, y, width, height, pen=_EDGE)
    return sheet.write(words, CAPTION, x, y + height + 1.0, max(width, 50.0))


def _write_all(sheet: Sheet, sentences: list[Rich], x: float, y: float, width: float) -> float:
    for sentence in sentences:
        y = sheet.write(sentence, TEXT, x, y, width) + 1.6
    return y


def _finding_words(finding: Finding) -> Rich:
    place = place_words(finding)
    return (
        strong(_SEVERITY[finding.severity] + ": "),
        finding.message.strip(),
        slanted(f" ({place})") if place else "",
    )


def _entry_words(finding: Finding, more: int) -> Rich:
    """Say a finding, and how many like it are not listed here."""
    words = _finding_words(finding)
    return [*words, f" {_more(more)}: see blockwright check."] if more else words


def _more(count: int) -> str:
    return "There is one more like it" if count == 1 else f"There are {count} more like it"


def _grouped(findings: tuple[Finding, ...]) -> list[tuple[Finding, int]]:
    """Return the first finding of each code and how many there are of it."""
    counts: dict[str, int] = {}
    for finding in findings:
        counts[finding.code] = counts.get(finding.code, 0) + 1
    firsts = {finding.code: finding for finding in reversed(findings)}
    return [(firsts[code], count) for code, count in counts.items()]


def _draw_attention(packet: Packet, frame: Frame, sheet: Sheet, top: float) -> None:
    """Draw the short list of what to look at, as far as the cover has room."""
    sheet.line((frame.left, top), (frame.right, top), HAIRLINE)
    y = sheet.write("To look at", NAME, frame.left, top + 1.5, frame.measure)
    groups = _grouped(packet.findings)
    if not groups:
        sheet.write("Nothing was found that should be looked at.", TEXT, frame.left, y, frame.measure)
        return
    for index, (finding, count) in enumerate(groups):
        words = [*_finding_words(finding), f" {_more(count - 1)}." if count > 1 else ""]
        lines = broken(words, TEXT, frame.measure)
        rest = "The rest is on the next page." if index else "The list is on the next page."
        reserve = TEXT.leading_mm if index + 1 < len(groups) else 0.0
        if y + len(lines) * TEXT.leading_mm + reserve > frame.foot:
            sheet.write(rest, TEXT, frame.left, y, frame.measure)
            return
        y = sheet.write_lines(lines, TEXT, frame.left, y, frame.measure) + 0.8


def _finding_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the pages that list the findings, the first with their places on the design."""
    shown = _listed(packet.findings)
    indent = 9.0
    heights = [text_height(_entry_words(*each), TEXT, frame.measure - indent) + 1.8 for each in shown]
    width, height = fit_picture(packet.design.width_mm / packet.design.height_mm, frame.measure, 116.0)
    room = frame.foot - frame.top - 18.0 - TEXT.leading_mm
    placed = any(finding.at is not None for finding, _ in shown)
    first_room = room - (height + 5.0 if placed else 0.0)
    picture = (frame.left, 0.0, width, height)
    pages: list[Page] = []
    for number, part in enumerate(dealt(heights, room, first_room=first_room)):
        box = picture if placed and number == 0 else None
        entries = [(index + 1, *shown[index]) for index in part]
        pages.append(partial(_draw_findings, packet, frame, entries, box))
    return pages


def _listed(findings: tuple[Finding, ...]) -> list[tuple[Finding, int]]:
    """Return the findings to list, and with the last of a kind how many more there are of it."""
    kinds: dict[str, list[Finding]] = {}
    for finding in findings:
        kinds.setdefault(finding.code, []).append(finding)
    listed: list[tuple[Finding, int]] = []
    for kind in kinds.values():
        shown = kind[:MOST_OF_A_KIND]
        listed += [(finding, 0) for finding in shown[:-1]]
        listed.append((shown[-1], len(kind) - len(shown)))
    return listed


def _draw_findings(
    packet: Packet,
    frame: Frame,
    entries: list[tuple[int, Finding, int]],
    picture: tuple[float, float, float, float] | None,
    sheet: Sheet,
) -> None:
    y = frame.heading(sheet, "What to look at", f"{len(packet.findings)} in all")
    if picture is not None:
        x, _, width, height = picture
        sheet.picture(packet.design_picture, x, y, width, height)
        sheet.box(x, y, width, height, fill=None, pen=_EDGE)
        _mark_places(packet, sheet, (x, y, width))
        y += height + 5.0
    for number, finding, more in entries:
        sheet.label(f"{number}", TEXT, frame.left + 5.5, y + FIRST_BASELINE * TEXT.leading_mm, align="right")
        y = sheet.write(_entry_words(finding, more), TEXT, frame.left + 9.0, y, frame.measure - 9.0) + 1.8


def _mark_places(packet: Packet, sheet: Sheet, picture: tuple[float, float, float]) -> None:
    """Ring the findings' places on the picture, with their numbers on a white disc beside them."""
    left, top, width = picture
    scale = width / packet.design.width_mm
    for number, (finding, _) in enumerate(_listed(packet.findings), start=1):
        if finding.at is None:
            continue
        x, y = left + finding.at[0] * scale, top + finding.at[1] * scale
        beside = x + (3.6 if x < left + width - 6.0 else -3.6)
        above = y + (-2.2 if y > top + 5.0 else 2.2)
        sheet.ring(x, y, 1.5, pen=Pen(0.7, "#ffffff"))
        sheet.ring(x, y, 1.5, pen=Pen(0.3, ACCENT))
        sheet.ring(beside, above, 2.1, fill="#ffffff", pen=Pen(0.1, ACCENT))
        sheet.label(f"{number}", _NUMBER, beside, above + 1.1, align="centre")
