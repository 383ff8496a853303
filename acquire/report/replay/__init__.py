"""Tapes of a store played again through the driver and the profile of then."""
