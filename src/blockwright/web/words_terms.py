"""Words of the trade that the stations use, each with its one meaning."""

import re

TERMS = {
    "design": "the colour sketch that the print is made from",
    "shape": "one connected area of one flat colour in the design",
    "speck": "a spot so small that it is taken for dirt, not for a shape",
    "neck": "a narrow part that joins two wider parts of one shape",
    "impression": "one inking and rubbing of one set of shapes, in one ink, onto the sheet",
    "pass": "the same impression repeated to deepen the colour; one to four are usual (common practice)",
    "pigment": "a tube paint or a ground colour, before anything is mixed into it",
    "recipe": "what an ink is mixed from: pigments and rice paste, each as a part of its volume",
    "nori, rice paste": "the paste of rice flour in every ink; it gives body, transparency and smoothness",
    "glycerin": "a syrup that slows the drying of an ink",
    "trap": "how far a lighter colour runs under a darker neighbour, so that drift shows no paper",
    "key, key block": "the block that carries the line work, usually the darkest",
    "overprint": "one ink over another; the lower one shows through",
    "board": "the wood as bought: plank or plywood, with a grain direction",
    "block": "a board cut to size, carved on one face or on both",
    "face": "one side of a block, with what is carved on it",
    "mirrored, right-reading": "the face shows the print the other way round, like a seal; the print is "
    "right-reading",
    "flat sawn, quarter sawn": "how a plank was cut from the tree: its rings lie flat in the face, and it "
    "moves most across its width; or they stand upright in it, and it moves about half as much",
    "moisture": "the water in wood, as a part of the wood's dry weight",
    "kento": "the two registration marks cut into every face, at the same place on all of them",
    "kagi": "the L-shaped mark in which a corner of the sheet seats",
    "hikitsuke": "the straight mark against which an edge of the sheet stops",
    "part block": "a small block, hardly larger than what it prints, without marks of its own",
    "registration board, soto-kento": "the board that part blocks are laid on for printing; it carries the "
    "marks for them",
    "rim": "the wood outside the marks",
    "waste": "the wood that does not print",
    "island": "waste far from any printing edge that may stay standing, with rounded shoulders",
    "transfer sheet": "a face at true size on paper, pasted on the wood to carve by",
    "face down, face up": "how a transfer sheet is pasted: drawn side to the wood (right-reading), or away "
    "from it (mirrored)",
    "stencil": "a sheet stuck on the wood, cut along the edges of the shapes, through which the waste is "
    "blasted away with sand",
    "weeding": "lifting off the parts of the stencil under which the wood is to go",
    "proof": "here: the print as it is predicted to look, before any wood is cut",
    "progressive proofs": "one sheet after each impression",
    "register": "how well the impressions of one sheet lie on each other",
    "drift": "how far an impression lies from where it should",
    "packet": "the one document that goes to the bench",
}
"""As the documentation explains them; a test holds the two together."""

OF_STATION = {
    "design": ("design", "shape", "speck", "neck"),
    "impressions": ("impression", "pass", "trap", "key, key block", "overprint"),
    "inks": ("pigment", "recipe", "nori, rice paste", "glycerin", "pass"),
    "blocks": (
        *("board", "block", "face", "mirrored, right-reading", "kento", "kagi", "hikitsuke", "rim"),
        *("part block", "registration board, soto-kento", "flat sawn, quarter sawn", "moisture"),
    ),
    "cutting": ("transfer sheet", "face down, face up", "waste", "island", "stencil", "weeding"),
    "proof": ("proof", "progressive proofs", "register", "drift", "trap", "packet"),
}
"""The words that each station explains, in the order in which it uses them."""


def terms(station: str) -> list[tuple[str, str]]:
    """The words of a station with their meanings."""
    return [(word, TERMS[word]) for word in OF_STATION[station]]


def meaning_id(word: str) -> str:
    """The id of a word's meaning on the page.

    >>> meaning_id("mirrored, right-reading")
    'means-mirrored-right-reading'
    """
    return "means-" + re.sub(r"[^a-z]+", "-", word.casefold())
