"""Checksums of lines and frames: which one fits, and whether that could be chance. Pure."""
