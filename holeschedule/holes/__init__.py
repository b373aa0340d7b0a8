"""Parts and their holes: found, sorted into rows, labelled."""
