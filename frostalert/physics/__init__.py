"""Physics of freezing nights: pure functions of numbers and arrays."""
