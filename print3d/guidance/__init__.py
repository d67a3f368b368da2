"""Which orthosis for which injury, with which angles: data files with their sources, and the reading of them."""
