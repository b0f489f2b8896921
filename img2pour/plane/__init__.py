"""The region map: shared lines and arcs, traced in pixels and placed by one matrix."""
