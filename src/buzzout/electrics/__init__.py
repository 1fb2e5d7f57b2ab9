"""What the meter should read, cold and under power. Knows the circuit and the catalogue only."""
