"""Reading DXF files: what is drawn, in what unit, on which layer."""
