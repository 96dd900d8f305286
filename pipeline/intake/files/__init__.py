"""Files of every format, as raw tables and layers."""
