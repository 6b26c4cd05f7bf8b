"""The English of karazuri and leaf on the pages."""

from collections.abc import Mapping

TEXTS_OF_THE_FINISHES: Mapping[str, str] = {
    "face_back": "face {face}, from the back: not mirrored",
    "kind_back_why": "This face presses the back of the sheet, which lies on it face up: it is not mirrored. "
    "Both sheets give that; the one to paste face down is therefore drawn the other way round.",
    "finish_lead": "After the inks it gets",
    "finish_label": "Karazuri or leaf",
    "finish_none": "nothing more",
    "finish_front": "karazuri from the front",
    "finish_back": "karazuri from the back",
    "finish_leaf": "{metal} leaf",
    "finish_shape_lead": "This shape gets after the inks",
    "finish_is_front": "Pressed without ink when the colours are dry: the sheet lies face down on a mirrored "
    "block, and the baren's edge rubs it in. What stands on the block sinks into the face.",
    "finish_is_back": "Pressed without ink when the colours are dry: the sheet lies face up on a block that "
    "is not mirrored, and is rubbed through a slip of paper. What stands on the block rises from the face.",
    "finish_is_leaf_one": "One leaf of {side} to a print; for {sheets} with waste {needed} leaves, {books}.",
    "finish_is_leaf_many": "{number} leaves of {side} to a print, {lap} over one another; for {sheets} with "
    "waste {needed} leaves, {books}.",
    "finish_proven": "No fewer do, on a grid of {grid}.",
    "finish_not_proven": "Fewer may do, but no fewer than {number}.",
    "finish_order": "It is laid last of all, on a ground, when the colour is dry.",
    "finish_coat": "Coat it, for it tarnishes.",
    "finish_hint": "The picture only hints at it: neither relief nor metal is in the colour model.",
    "finish_on_colour": "On the colour {name}",
    "finish_on_place": "On the shape at {at}",
    "finish_printed": "{where}, printed beneath.",
    "finish_not_printed": "{where}, not printed beneath.",
    "finish_print": "Print it too",
    "finish_print_not": "Leave it bare",
    "finish_take_off": "Take it off",
    "finish_ground": "the ground at true size",
    "finish_plan": "where the leaves lie",
    "finish_files": "On paper:",
    "books_one": "one book",
    "books_many": "{number} books",
    "sheets_one": "one sheet",
    "sheets_many": "{number} sheets",
    "answer_finish_off": "Take the entry out",
    "answer_no_karazuri": "Do not emboss it",
    "answer_no_leaf": "Lay no leaf",
    "answer_metal": "Take {metal} leaf",
}
"""By name, as :mod:`blockwright.web.words` has them."""
