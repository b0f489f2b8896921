"""Bits, reach, pockets and the verdict."""
