"""One file a format: each reads or writes one, says what it cannot carry, and knows nothing of the others.

What several need of a list of chapters is checked once, in `chapter_list.py`.

In: values, or the bytes of a file. Out: text, or values and findings. Never: a disk; `outside/` opens and
saves the files.

To add a format: one module here with a function from an `Episode` (or a `PlanDocument`) to text, a row in
`outside/plan_files.py`, a line in README's table, a test that reads it back with somebody else's reader.
"""
