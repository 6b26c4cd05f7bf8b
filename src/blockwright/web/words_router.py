"""The English of faces that a router cuts; :mod:`blockwright.web.words` takes it in."""

from collections.abc import Mapping

TEXTS_OF_THE_ROUTER: Mapping[str, str] = {
    "by_router": "by a router",
    "short_router": "router, then by hand",
    "means_hand": "It is carved with knives and gouges, after the transfer sheet that is pasted on the wood.",
    "means_stencil": "A stencil is stuck on the wood and cut along the shapes, and the waste is blasted away "
    "with sand; the marks are cut by hand.",
    "means_router": "A router clears the waste with turning bits, in your shop or in a partner's; what its "
    "round bits cannot reach is carved by hand.",
    "router_head": "The router",
    "router_later": "The router's programs are not worked out yet.",
    "router_none": "No router's programs could be worked out for this face.",
    "route_time": "{machine} runs for {time} on this face.",
    "route_bound": "Clearing its ground takes {least} at the very least: this is {ratio} times that.",
    "route_hand_one": "One place of {area} is left to the hand, about {time} of carving.",
    "route_hand_many": "{number} places are left to the hand, {area} in all, about {time} of carving.",
    "route_no_hand": "Nothing is left to the hand: the bits reach all of the waste.",
    "route_narrow_one": "One place of what prints, {width} wide, is narrower than this wood stands when "
    "it is routed.",
    "route_narrow_many": "{number} places of what prints, the narrowest {width} wide, are narrower than this "
    "wood stands when it is routed.",
    "route_untouched": "what prints is not touched",
    "route_touched": "{area} of what prints would be cut away",
    "route_checked": "As simulated from the programs: {face}; {percent}\u00a0% of the ground that the bits "
    "reach has its depth, {deepest} at the deepest; the marks lie within {off} of their places. Nothing else "
    "was checked.",
    "degrees": "degrees",
    "walls_lead": "Walls stand at",
    "walls_end": "from the face.",
    "depth_lead": "Beside a printing edge the waste is taken down",
    "depth_mid": "deep, far from all edges",
    "depth_end": "at most.",
    "islands_lead": "Islands of waste far from all edges are",
    "islands_no": "taken down too",
    "islands_yes": "left standing",
    "held_back": "No program is handed over for {face}: it would cut {area} out of what prints.",
    "held_back_one": "No program is handed over for {face}: it would cut {area} out of what prints, at a "
    "place {right} from the left and {down} from the top of the print.",
    "held_back_many": "No program is handed over for {face}: it would cut {area} out of what prints, at "
    "{number} places, the first {right} from the left and {down} from the top of the print.",
    "bits_work_head": "What each bit does",
    "bit_word": "bit",
    "bit_does": "work",
    "bit_time": "time",
    "bit_speed": "{rpm} turns and {feed}\u00a0mm a minute",
    "bits_head": "Bits to choose from",
    "bits_said": "Each set of bits with the minutes of the router and of the hand on this face, and the area "
    "left to the hand. The choice holds for all faces that are routed.",
    "bits_column": "bits",
    "bits_router": "router",
    "bits_hand": "hand",
    "bits_left": "left",
    "bits_take": "take these",
    "bits_take_label": "take these: {bits}",
    "bits_here": "taken now",
    "bits_any": "Let all bits of the shelf be used",
    "kind_relief": "in relief",
    "relief_label": "Face {face} in relief as it is cut, {width} by {height}, {deepest} at the deepest. "
    "Arrow keys turn it, with Shift they move it; plus and minus bring it nearer and farther; Home puts "
    "it back.",
    "relief_alt": "Face {face} as it is cut, lit from the upper left",
    "relief_said": "face {face} as simulated from the programs, mirrored",
    "relief_said_back": "face {face} as simulated from the programs",
    "relief_true": "true height",
    "relief_three": "three times as high",
    "relief_high": "How high it is shown",
    "relief_over": "What is laid over the relief",
    "relief_hand": "left to the hand",
    "relief_bits": "which bit",
    "relief_home": "as at first",
    "shop_of": "For the shop that routes {face}",
    "shop_all": "The folder in one",
    "shop_said": ", as {name}.",
    "file_program": "program in RS274/NGC words, mm",
    "file_program_of": "program for {bits}, in RS274/NGC words, mm",
    "file_air": "the same moves above the work: run it first",
    "file_job_sheet": "the job on one page: wood, zero, bits, depth, what matters",
    "file_handwork": "what is left to the hand, at true size; print it at 100\u00a0%",
    "file_shop_dxf": "outlines in mm, mirrored",
    "file_shop_svg": "the same outlines as a drawing",
    "file_surface": "the cut surface as a solid body, mm",
    "file_height": "its heights as a picture of 16 bits, with its scale",
    "file_relief": "a shaded picture of it",
    "file_bits": "which bit cut where last",
}
