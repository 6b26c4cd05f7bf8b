"""What the house is furnished with and no algorithm makes: the fonts of the papers, with their licence."""

__all__: list[str] = []
