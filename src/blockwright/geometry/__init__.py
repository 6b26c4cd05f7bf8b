"""Geometry in mm: label maps, coverages with shared edges, narrow places, painting areas into pictures."""
