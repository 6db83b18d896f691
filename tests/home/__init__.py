"""The week at home, by pure functions: worked figures and what always holds."""
