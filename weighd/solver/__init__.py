"""Solvers of linear problems behind the port :class:`weighd.domain.problem.Solver`."""
