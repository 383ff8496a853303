"""The history of checks: whether a meter stands still, drifts, and when it will leave its limit.

Figures of past checks in, charts, breaches, a line and plain words out. Pure: no files, no clock,
no threads, no randomness; the moment "now" is an argument. Never judges a check and opens no gate
(that is `acquire.calibration`): a chart warns before a check fails. Results of checks are to be
recorded so that trends can be seen (ISO/IEC 17025:2017, 7.7.1, from memory). The way in is
`acquire.history.outlook`.
"""
