"""Known faults planted into a copy of a register, and the rules judged by which of them they find."""
