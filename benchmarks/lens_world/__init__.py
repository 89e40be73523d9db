"""A test world for corners: real lenses traced ray by ray that no constant of the code was chosen on.

`prescriptions.json` are the lenses, `trace.py` follows rays through them, `footprints.npz` is what came of it
(made by `python -m benchmarks.lens_world trace`), `lenses.py` reads it and splits lenses into the halves
"tune" and "unseen"; `truth.py` is what openings and glass let pass. None of these knows the code under test;
`score.py` alone does, and what uses it.
"""
