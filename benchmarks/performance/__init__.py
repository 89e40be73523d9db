"""What an audit costs, each figure beside its peers in the same run: `python -m benchmarks.performance`."""
