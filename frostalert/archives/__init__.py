"""What past springs are read from: archives of forecasts, stations, old files.

Everything is kept in the state as it came, so that a look that broke off goes on.
"""
