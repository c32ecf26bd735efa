"""Published relations, one a file: scalars in, scalars out, SI units."""
