"""The English of the pages, in one place: templates say ``words.name`` or ``words.fmt("name", figure=1)``.

A translation is another table with the same keys. ``{braces}`` are filled in by :func:`fmt`; a text with a
number has two forms, ``name_one`` and ``name_many``, chosen by :func:`count`.
"""

import re
from collections.abc import Mapping
from typing import Any

from blockwright.web.words_bench import TEXTS_OF_THE_BENCH
from blockwright.web.words_bits import TEXTS_OF_THE_BITS
from blockwright.web.words_finishes import TEXTS_OF_THE_FINISHES
from blockwright.web.words_inks import TEXTS_OF_THE_INKS, TEXTS_OF_THE_SHELF
from blockwright.web.words_key import TEXTS_OF_THE_KEY
from blockwright.web.words_movement import TEXTS_OF_MOVEMENT
from blockwright.web.words_overprints import TEXTS_OF_OVERPRINTS
from blockwright.web.words_part_blocks import TEXTS_OF_PART_BLOCKS
from blockwright.web.words_router import TEXTS_OF_THE_ROUTER

TEXTS: Mapping[str, str] = {
    # The house
    "app": "Blockwright",
    "skip": "Skip to the work",
    "all_prints": "All prints",
    "stations": "Stations",
    "dark_room": "Dark room",
    "light_room": "Light room",
    "room_help": "The dark room is neutral grey, for judging colour",
    "undo": "Undo",
    "redo": "Redo",
    "undo_what": "Undo: {what}",
    "redo_what": "Redo: {what}",
    "stop": "Stop",
    "again": "Go on with it",
    "look_only": "Another window holds this print: here you may look only.",
    "why": "why?",
    "show": "Show",
    "lost": "The connection to Blockwright is lost: what you change now is not kept. Start it again with "
    "blockwright open, and open the address that it prints; then this page goes on.",
    "station_design": "Design",
    "station_impressions": "Impressions",
    "station_blocks": "Blocks",
    "station_cutting": "Cutting",
    "station_proof": "Proof",
    "asks_one": "one thing to look at",
    "asks_many": "{number} things to look at",
    "saved": "saved",
    "state_fresh": "proof is fresh",
    "state_sketch": "proof is a quick one",
    "state_stale": "proof is from before your last change",
    "state_missing": "no proof yet",
    "stale_from": "out of date from {station} on",
    "stale_one": "out of date",
    # Work under way
    "work_design": "finding the shapes",
    "work_separation": "making the impressions",
    "work_blocks": "laying out the blocks",
    "work_cutting": "drawing the transfer sheets",
    "work_proof": "printing the proof",
    "work_packet": "writing the packet",
    "terms_head": "What the words mean",
    "begun": "{stage}",
    "work_any": "at work",
    "under_way": "{stage}, {percent} %",
    "nearly": "{stage}, nearly there",
    "seconds": "{stage}, about {seconds} s to go",
    "minutes": "{stage}, about {minutes} min to go",
    "waiting_design": "The shapes are being found; this page fills by itself.",
    "waiting_rough": "How long it takes on this machine is known after the first time. On one with two "
    "cores, all papers took a quarter of a minute for a print of 414 shapes in flat colours, and half a "
    "minute for a photograph that fell into 2,600.",
    "waiting_impressions": "The impressions are being made; this page fills by itself.",
    "nothing_made": "Nothing has been made of this picture yet.",
    "not_yet_design": "Nothing has been made of this picture yet.",
    "not_yet_impressions": "Nothing has been made of this picture yet.",
    # The sheet
    "whole_sheet": "whole sheet",
    "nearer": "nearer",
    "farther": "farther",
    "sheet_keys": "Arrows move the sheet, plus and minus go nearer and farther, 0 shows the whole sheet.",
    "divider": "Divider between {left} and {right}",
    "layer_picture": "picture",
    "layer_shapes": "shapes",
    "layer_design": "design",
    "layer_after": "after it",
    "layer_alone": "by itself",
    "layer_under": "what runs under it",
    # Drawer
    "drawer_title": "Prints",
    "drawer_lead": "Drop a picture of your design here, or",
    "choose_picture": "choose a picture",
    "drawer_kinds": "Any common picture file, a layered painting or line drawing. It stays on this machine.",
    "demo_lead": "To look around first,",
    "demo_open": "open the tide mill",
    "demo_what": "a finished print with a graded sky, whose inks lie over one another.",
    "sending": "Taking in {name}: {percent} %",
    "sending_lost": "The picture did not arrive: Blockwright is not running any more.",
    "drop_here": "Let go to start a print from this picture",
    "begin_head": "Start a print",
    "demo_wait": "It takes a few seconds to paint.",
    "drawer_way": "From your picture come its shapes, the impressions in printing order, the blocks with "
    "their kento, the sheets to carve by, and a proof of the print before any wood is cut.",
    "working_now": "Being worked on now.",
    "next_shapes": "Look at its shapes",
    "next_impressions": "Set its impressions",
    "next_blocks": "Look at its blocks",
    "next_cutting": "Print its transfer sheets",
    "next_proof": "Look at its proof",
    "next_packet": "Take its packet",
    "next_done": "Open it",
    "forget": "Put away",
    "forget_what": "Put away {title}: it leaves this drawer, its folder stays where it is",
    "width_question": "How wide will the print be?",
    "width_unit": "mm",
    "width_take": "Start the print",
    "width_why": "The size is not in the file. It is the width of the printed image; the height follows.",
    # Design
    "design_sheet": "The picture and its shapes",
    "palette": "Palette",
    "palette_about_one": "One colour",
    "palette_about_many": "{number} colours",
    "shapes_one": "1 shape",
    "shapes_many": "{number} shapes",
    "choose_shape": "Choose a shape on the sheet, or a colour of the palette, to change it.",
    "shape_is": "{area}, {width} at its narrowest.",
    "shape_nth_one": "The only shape of this colour.",
    "shape_nth_many": "The {nth} largest of {number} in this colour.",
    "shape_largest_many": "The largest of {number} in this colour.",
    "shape_larger": "next larger",
    "shape_smaller": "next smaller",
    "shape_here": "show it",
    "recolour": "Recolour",
    "recolour_lead": "Make",
    "recolour_colour": "New colour",
    "recolour_where": "What is recoloured",
    "here_only": "this shape",
    "wherever": "the whole colour",
    "merge": "Merge",
    "merge_lead": "Merge",
    "merge_mid": "into its neighbour",
    "merge_into": "Which neighbour takes it",
    "merge_where": "What is merged",
    "drop": "Drop it",
    "drop_lead": "and the neighbour with the longest common edge fills its place.",
    "name_lead": "Call this colour",
    "name_label": "Name of the colour",
    "no_shape": "There is no shape at that place.",
    "colours_lead": "The picture comes out in {number} colours; take",
    "colours_locked": "These {number} colours are kept.",
    "colours_label": "How many colours",
    "colours_auto": "as many as it asks for",
    "lock": "Keep these colours",
    "unlock": "Let them be found anew",
    "lock_why": "Colours that are kept stay the same when the picture or another setting changes.",
    "speck_lead": "A spot under",
    "speck_end": "is a speck of dirt, and is filled.",
    "smoothing_lead": "The hand's tremble is smoothed out over",
    "smoothing_end": "of an edge.",
    "least_area_lead": "Shapes under",
    "least_width_lead": "and lines and necks under",
    "least_width_end": "are pointed at.",
    "finding_head": "To look at",
    "finding_none": "Nothing to point at.",
    "more_findings": "{number} more",
    "edits_head": "Done by hand",
    "take_back": "Take back",
    "edit_recolour": "Recoloured to {to}{here} at {at}.",
    "edit_here": ", here only,",
    "edit_merge": "Merged {what} at {at} into the colour at {into}.",
    "edit_merge_shape": "the shape",
    "edit_merge_colour": "the whole colour",
    "edit_drop": "Dropped the shape at {at}.",
    "edit_gradation": "The colour at {at} runs from {start} to {end}.",
    "edit_flat": "The colour at {at} is flat.",
    "edit_ramp": "The colour at {at} runs as you set it.",
    "edit_name": "Named the colour at {at} {name}.",
    "tracing_head": "How shapes are found",
    "design_sheet_short": "picture and shapes",
    "usual": "Usual: {value}.",
    "usual_yes": "yes",
    "usual_no": "no",
    "tag_cp": "Common practice, no source.",
    "tag_der": "Derived from published figures.",
    "tag_mem": "From memory: check it before you rely on it.",
    "tag_pub": "Published: {source}.",
    "paper_lead": "The paper is",
    "width_lead": "The image is",
    "width_end": "wide.",
    "paper_label": "Colour of the paper",
    "width_label": "Width of the image",
    "picture_alone": "The picture",
    "design_caption": "{width} × {height}, {name}",
    "names_more_one": "One name given.",
    "names_more_many": "{number} names given.",
    # What answers a finding
    "answer_drop": "Drop it",
    "answer_speck": "Fill all under {value}",
    "answer_colours": "Take {number} colours",
    "answer_trap": "Run {value} under",
    "answer_take_back": "Take the edit back",
    "answer_fewer": "Take {number} colours",
    "answer_leave": "Leave it as it is",
    "answer_noted": "Noted",
    "answer_least_width": "Point only under {value}",
    "answer_lock_one": "Keep this colour",
    "answer_lock_many": "Keep these {number} colours",
    "answer_out_of_order": "Take it out of the order",
    "answer_paper": "Make it paper",
    "answer_print_all": "Print all that is not the paper's very colour",
    "answer_white": "Take white paper",
    "answer_once": "Print it once",
    "answer_as_printed": "Make it as it prints, {hex}",
    "left_as_one": "One thing left as it is",
    "left_as_many": "{number} things left as they are",
    "point_again": "Point at it again",
    "more_alike_one": "And one more like it.",
    "more_alike_many": "And {number} more like it.",
    "stops": "This stops the work: ",
    # Impressions
    "rack": "Printing order",
    "rack_about_one": "One impression",
    "rack_about_many": "{number} impressions",
    "rack_help_keys": "Drag one to move it, or press Alt with an arrow key.",
    "rack_help_touch": "Hold one to drag it elsewhere.",
    "rack_moved": "Number {number} is now {name}.",
    "after_nth": "the sheet after impression {number} of {total}",
    "alone_nth": "impression {number} of {total} by itself",
    "under_nth": "what runs under what, before impression {number}",
    "see": "What the sheet shows",
    "on_to": "On to the {station}",
    "on_impressions": "impressions",
    "on_blocks": "blocks",
    "on_cutting": "cutting",
    "on_proof": "proof",
    "impression_of": "{number} · {name}",
    "impression_face": "board {board}, {side}",
    "side_front": "front",
    "side_back": "back",
    "after_name": "after {name}",
    "before_name": "before {name}",
    "first": "first on the paper",
    "last": "last on the sheet",
    "print_it": "Print it",
    "with_ink_lead": "with",
    "running": "running",
    "trap_as_all": "Let it run as all others do",
    "or_words": "or",
    "finding_head_all": "On the whole sheet",
    "paper_within_lead": "A colour within",
    "paper_within_end": "of the paper's, or lighter than it, is left unprinted.",
    "paper_within_label": "How near the paper's colour is left unprinted, in CIEDE2000",
    "under_darker": "under its darker neighbours.",
    "times_label": "How often it is printed",
    "times_1": "once",
    "times_2": "twice",
    "times_3": "3 times",
    "times_4": "4 times",
    "swatch_1": "once",
    "swatch_2": "twice",
    "swatch_3": "3\u00a0×",
    "swatch_4": "4\u00a0×",
    "swatches": "Predicted on the paper, printed",
    "swatches_note": "predicted on bare paper",
    "swatches_why": "What one to four passes of this ink give on bare paper, as the proof predicts it.",
    "trap_label": "How far it runs under its darker neighbours",
    "trap_all_lead": "Where nothing else is said, the trap is",
    "trap_all_end": "wide at most: so far a colour runs under its darker neighbours.",
    "trap_all_label": "How far every colour runs under its darker neighbours",
    "trap_own": "This one is set by itself.",
    "order_lead": "Print it",
    "earlier": "earlier",
    "later": "later",
    "order_usual": "Back to light before dark",
    "order_why": "The printing order is {order}.",
    "order_own": "your own",
    "order_light": "light before dark",
    "gradation_head": "How it is brushed out",
    "gradation_miss": "Along its way the print is predicted to differ from the design by at most {worst} "
    "(CIEDE2000), in the inks as wanted.",
    "gradation_lead": "Its colour runs from",
    "gradation_to": "to",
    "gradation_start_x": "Start of the gradation, mm from the left edge",
    "gradation_start_y": "Start of the gradation, mm from the upper edge",
    "gradation_end_x": "End of the gradation, mm from the left edge",
    "gradation_end_y": "End of the gradation, mm from the upper edge",
    "gradation_ends": "An end of a gradation",
    "gradation_mm": "mm, from the left and from the upper edge.",
    "gradation_drag": "Drag its ends on the sheet, or move them with the arrow keys.",
    "gradation_curved": "It runs away from a curved edge; other ends make it straight.",
    "gradation_round": "It runs round a point; other ends make it straight.",
    "gradation_flat": "Make it flat",
    "gradation_way_lead": "It is printed",
    "gradation_way_label": "How the gradation is printed",
    "gradation_way_fits": "as fits best",
    "gradation_way_one": "by one ink that thins",
    "gradation_way_flat": "as bokashi over a flat",
    "gradation_way_two": "as futa-iro, two inks on one block",
    "edit_way": "The gradation at {at} is printed {way}.",
    "gradation_handle_start": "Start of the gradation",
    "gradation_handle_end": "End of the gradation",
    "answer_flat": "Make it flat",
    "answer_as_fits": "Print it as fits best",
    "runs_under": "It runs under {names}.",
    "runs_over": "It lies over {names}.",
    "and_more": "{names} and {number} more",
    "and": "{names} and {last}",
    # Errors and refusals
    "trouble_title": "That did not work",
    "not_found": "There is no such print here. Open it from the drawer.",
    "may_not_write": "Another window holds this print, so nothing can be changed from here.",
    "not_an_act": "That is nothing that can be decided here.",
    "needs_number": "{what} must be a number, such as 0.5.",
    "needs_whole": "{what} must be a whole number.",
    "needs_place": "A place is two numbers in mm.",
    "needs_field": "{what} is missing.",
    "no_such_file": "There is no such file in this print; it may be under way.",
    "no_such_page": "There is no such page.",
    "packet_missing": "The packet is not written yet; wait for the work to end.",
    "packet_stale": "The packet in the folder is from before your last change, so it is not given out.",
    "packet_again": "It is being written anew; its link comes when it is done.",
    "packet_ask": "Have it written anew, and its link comes.",
    "files_stale": "The files are not there yet as decided, and older ones are not given out.",
    "files_again": "They are being made; their links come when they are done.",
    "files_ask": "Have them made, and their links come.",
    "back_to": "Back to the {station}",
    "did": "Done: {what}.",
    "wrong_print": "The decisions cannot be read, so nothing can be made anew:",
    "wrong_print_do": "Mend print.toml in a text editor, or undo the last change.",
    # Overprints, inks and shelf
    **TEXTS_OF_OVERPRINTS,
    **TEXTS_OF_THE_INKS,
    **TEXTS_OF_THE_SHELF,
    **TEXTS_OF_THE_BITS,
    # Blocks, Cutting and Proof
    **TEXTS_OF_THE_BENCH,
    **TEXTS_OF_MOVEMENT,
    **TEXTS_OF_THE_KEY,
    **TEXTS_OF_THE_FINISHES,
    **TEXTS_OF_PART_BLOCKS,
    **TEXTS_OF_THE_ROUTER,
}


def __getattr__(name: str) -> str:
    """``words.skip`` is the text called ``skip``."""
    try:
        return TEXTS[name]
    except KeyError:
        raise AttributeError(name) from None


def fmt(text: str, /, **figures: Any) -> str:
    """The text with this key, its braces filled in.

    >>> fmt("palette_about_many", number=21)
    '21 colours'
    """
    return TEXTS[text].format(**figures)


def count(text: str, number: int, **figures: Any) -> str:
    """The text with this key for one or for many.

    >>> count("asks", 1), count("asks", 3)
    ('one thing to look at', '3 things to look at')
    """
    return fmt(f"{text}_one" if number == 1 else f"{text}_many", number=number, **figures)


_FIGURE_AND_UNIT = re.compile(r"(?<=\d) (?=(?:mm²?|cm²?|m|g|h)\b|[%×])")


def bound(sentence: str) -> str:
    """A sentence in which no line breaks between a figure and its unit.

    >>> bound("About 0.04 mm wide, under 1 mm².")
    'About 0.04\\xa0mm wide, under 1\\xa0mm².'
    """
    return _FIGURE_AND_UNIT.sub("\u00a0", sentence)


def mm(length_mm: float) -> str:
    """A length for a sentence: no more digits than a printmaker can measure.

    >>> mm(0.5), mm(12.344), mm(360.0)
    ('0.5\\xa0mm', '12.3\\xa0mm', '360\\xa0mm')
    """
    digits = 2 if length_mm < 10 else 1 if length_mm < 100 else 0
    return f"{figure(length_mm, digits)}\u00a0mm"


def area(area_mm2: float) -> str:
    """An area for a sentence, in cm² from one cm² on.

    >>> area(1243.0), area(0.423)
    ('12.4\\xa0cm²', '0.42\\xa0mm²')
    """
    if area_mm2 >= 100:
        return f"{figure(area_mm2 / 100, 1 if area_mm2 < 10000 else 0)}\u00a0cm²"
    return f"{figure(area_mm2, 2 if area_mm2 < 10 else 0)}\u00a0mm²"


def figure(number: float, digits: int = 2) -> str:
    """A number without idle zeros.

    >>> figure(0.50), figure(12.0), figure(0.0)
    ('0.5', '12', '0')
    """
    text = f"{number:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def nth(number: int) -> str:
    """The ordinal of a number.

    >>> nth(1), nth(2), nth(3), nth(11), nth(22)
    ('1st', '2nd', '3rd', '11th', '22nd')
    """
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def listed(names: list[str], most: int = 4) -> str:
    """Names as a sentence lists them.

    >>> listed(["roof"]), listed(["roof", "tide", "sand"]), listed(["a", "b", "c"], most=2)
    ('roof', 'roof, tide and sand', 'a, b and 1 more')
    """
    if len(names) > most:
        return fmt("and_more", names=", ".join(names[:most]), number=len(names) - most)
    if len(names) < 2:
        return "".join(names)
    return fmt("and", names=", ".join(names[:-1]), last=names[-1])


def opening(text: str) -> str:
    """A text that begins a sentence.

    >>> opening("wet ochre")
    'Wet ochre'
    """
    return text[:1].upper() + text[1:]
