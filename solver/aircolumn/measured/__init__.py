"""Measured pulls: read, corrected, compared, laid under the prediction, calibrated."""
