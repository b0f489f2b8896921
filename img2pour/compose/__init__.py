"""Several pieces of art on one board: pictures, drawings, words and plain shapes."""
