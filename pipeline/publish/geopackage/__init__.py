"""The GeoPackage: layers, columns, styles."""
