"""The inks of a print: what is taken from the shelf, what is mixed, and how much."""

from blockwright.inks.printing import ink_print

__all__ = ["ink_print"]
