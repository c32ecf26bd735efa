"""The march on a graphics card: the physics of `kernel` compiled for CUDA, one block of threads for each case."""
