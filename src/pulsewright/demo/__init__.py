"""An invented day on the dyno, shipped with the package. Nothing in it was measured."""
