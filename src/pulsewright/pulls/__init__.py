"""Measurement wing: from a shop's files to pulls, mean curves, holes and artefact findings.

file -> table -> named channels -> Pull -> weather, bins -> means, hole, comparisons, findings
"""
