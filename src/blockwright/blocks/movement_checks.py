"""What a careful colleague says about wood and paper that move: findings on register, woods and moisture."""

from collections.abc import Sequence

from blockwright.blocks.allowing import stock_of
from blockwright.blocks.movement import VALID_PERCENT, is_drawn_on
from blockwright.model.blocks import Board
from blockwright.model.findings import Finding
from blockwright.model.movement import Apart, Movement
from blockwright.model.settings import BlocksTable


def check_movement(boards: Sequence[Board], movement: Movement, settings: BlocksTable) -> list[Finding]:
    """Say where impressions come to lie apart, which wood is not known, and what is drawn on.

    While the moisture stays as it was, wood does not move, and nothing is said of woods.
    """
    findings = _check_register(movement, settings)
    if movement.carving_moisture_percent == movement.printing_moisture_percent:
        return findings
    return [*findings, *_check_woods(boards, movement, settings), *_check_range(movement)]


def _check_register(movement: Movement, settings: BlocksTable) -> list[Finding]:
    apart = movement.apart_left
    alarm_mm = settings.register_alarm_mm
    # An alarm below the target holds alone.
    target_mm = min(settings.register_target_mm, alarm_mm)
    if apart is None or apart.apart_mm <= target_mm:
        return []
    limit_mm = alarm_mm if apart.apart_mm > alarm_mm else target_mm
    return [
        Finding(
            code="impressions-apart",
            severity="warn" if apart.apart_mm > alarm_mm else "note",
            message=f"{_named(apart)} come to lie {apart.apart_mm:.2f} mm apart at the "
            f"{_corner(apart)}, more than {limit_mm:g} mm, {_because(apart, movement)}; "
            f"{_remedy(movement)}.",
            at=apart.at,
        )
    ]


def _corner(apart: Apart) -> str:
    if apart.of_image:
        return f"image's {apart.corner} corner"
    return f"{apart.corner} corner of what both may print"


def _named(apart: Apart) -> str:
    one, other = (f"impression {n} ({face})" for n, face in zip(apart.impressions, apart.faces, strict=True))
    return f"{one[0].upper()}{one[1:]} and {other}"


def _because(apart: Apart, movement: Movement) -> str:
    told = {each.number: each for each in movement.impressions}
    one, other = (told[number] for number in apart.impressions)
    if one.damp != other.damp:
        return "as one is printed on the damp sheet and the other on the dry one"
    return "as their boards move differently"


def _remedy(movement: Movement) -> str:
    if not movement.compensated:
        return "set compensate in [blocks] to draw the blocks for it, or carve them from boards alike"
    return "give them faces of their own"


def _check_woods(boards: Sequence[Board], movement: Movement, settings: BlocksTable) -> list[Finding]:
    """One note for each wood that is not known, however many boards are of it."""
    woods = {
        stock.wood: stock.name
        for board in boards
        if (stock := stock_of(board, settings)) and (told := movement.board(board.name))
        if not told.reckoned_as and not told.own_figure
    }
    return [
        Finding(
            code="wood-not-known",
            severity="note",
            message=f'How much "{wood}" moves is not known here: {settings.unknown_wood_percent:g} % of its '
            "width for each point of moisture is taken for granted. Set unknown_wood_percent in [blocks], or "
            "the board's own moves_percent under [[blocks.stock]].",
            about=(("board", name),),
        )
        for wood, name in woods.items()
    ]


def _check_range(movement: Movement) -> list[Finding]:
    contents = {
        "carved": movement.carving_moisture_percent,
        "printed": movement.printing_moisture_percent,
    }
    beyond = [
        f"{content:.1f} % when they are {when}" for when, content in contents.items() if is_drawn_on(content)
    ]
    if not beyond or movement.largest_mm == 0.0:
        return []
    least, most = VALID_PERCENT
    return [
        Finding(
            code="moisture-drawn-on",
            severity="note",
            message=f"The blocks hold {' and '.join(beyond)}; how wood moves is known from {least:g} to "
            f"{most:g} % moisture, and is drawn on in a straight line beyond: trust these figures less.",
        )
    ]
