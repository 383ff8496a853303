"""The numbers: readings and settings in, results with uncertainty out.

Pure: no files, no clock, no threads; what is drawn is drawn with a fixed seed. numpy and scipy are
imported by the modules that need them, so whoever wants a fast start imports this package only when
there is something to compute. The way in is `acquire.analysis.results`.
"""
