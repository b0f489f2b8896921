"""Tests of img2pour; `tests.art` draws pictures whose truth is known."""
