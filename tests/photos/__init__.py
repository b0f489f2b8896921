"""Made photos of printed sheets, with the truth beside each."""
