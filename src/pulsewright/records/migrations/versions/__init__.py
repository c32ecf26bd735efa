"""One file a step, in order. A step is never changed once it was released."""
