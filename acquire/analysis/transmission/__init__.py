"""Transmission: from counts of a head, or readings of a band meter, to what a film lets through.

Wavelengths are in nm, transmittances parts of 1 (never percent), times in seconds. The way:

    beam        counts with dark and open beam -> transmittance of a slide
    stray       the part of it that is stray light
    spectrum    transmittance over wavelength with its doubt, and the ratio to the blank
    definition  a band with its weights; only both together have a name and a number
    weights     weighting tables, as files beside this module
    coverage    what of a band a grid of wavelengths covers, and the sum that stands for the mean
    reduce      many spectra to all bands; one spectrum to a band with its uncertainty
    film        film transmittance, absorbance, blocking
    slides      several coated slides against several blanks: what is shown
    pairs       slides read bare and coated as spectra, less what the control did: any band
    meter       single readings of a band meter with what they share
    slab        what plain glass and clear films let through

Nothing is clipped: a ratio above 1 is possible (a clear film of low index reflects less than its
slide) and is shown. Nothing is extrapolated: what a spectrum does not cover is named and, beyond
a limit, has no value. Pure but for the tables, which are read once from this package. Any thread.
"""
