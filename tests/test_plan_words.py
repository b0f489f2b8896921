"""The planner's words in inches and square inches."""

from __future__ import annotations

import pytest

from img2pour.plan_words import in_inches


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("leave 6 mm, or more", "leave 0.236 in, or more"),  # 6 / 25.4 = 0.23622
        ("a floor of 25.4 mm", "a floor of 1 in"),
        ("near 2, 80 mm: mind it", "near 0.079, 3.15 in: mind it"),
        ("soak 0.10 mm becomes 0.11 mm", "soak 0.0039 in becomes 0.0043 in"),
        ("300 x 200 mm on a bed", "11.81 x 7.87 in on a bed"),
        ("12 of 640 mm of edge", "0.472 of 25.2 in of edge"),
        ("leans at most 0.268 mm per mm", "leans at most 0.268 mm per mm"),
        ("none above 9 mm2", "none above 0.0140 sq in"),  # 9 / 645.16 = 0.013950
        ("over gold (8.5 cm2)", "over gold (1.32 sq in)"),  # 850 / 645.16 = 1.3175
        ("white below 64 mm2, at 2, 80 mm", "white below 0.0992 sq in, at 0.079, 3.15 in"),
        ("A4 mm is no length", "A4 mm is no length"),
        ("48 h at 21 C", "48 h at 21 C"),
    ],
)
def test_lengths_are_told_in_inches(words: str, said: str) -> None:
    assert in_inches(words) == said
