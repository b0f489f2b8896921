"""Results as plain data for the page: outlines as paths, figures as in the report."""
