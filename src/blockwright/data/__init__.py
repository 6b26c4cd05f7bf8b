"""What the house is furnished with: the fonts of the papers, lights, pigments of the literature, woods."""

__all__: list[str] = []
