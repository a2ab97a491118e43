"""What the clips themselves tell of when they rolled: the clock they filmed, what they heard."""
