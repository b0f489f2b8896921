"""What the palette and the labels are made with: flat areas, modes, blends, blur, specks, names."""
