"""What is written: drawings, tables, pictures and the output folder."""
