"""Processes that read files in our place: what a file does to its reader it does to nobody else.

A job is a module with a function `work(task, limit_s)`, of plain data to plain data. It may have another,
`expect(tasks)`, which is told which tasks come next. `crew.py` gives tasks to workers and answers back in
order, `process.py` is one worker as seen from here, `worker.py` what runs there, `wire.py` what goes between
them.
"""
