"""Reference solutions in plain numpy and scipy, written apart from the solver they are held against."""
