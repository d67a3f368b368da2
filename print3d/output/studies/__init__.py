"""Pages, plots and sheets of studies."""
