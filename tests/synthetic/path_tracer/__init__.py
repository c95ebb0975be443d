"""A path tracer for jars and tubs of water, which shares nothing with the measuring."""
