"""What the forecasts mean for each block and night."""
